package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"os/exec"
	"runtime"
	"slices"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"portside/cmd/portside/site"
	"portside/cmd/portside/text"
)

// Limits of the server. The times are common practice for public servers; a
// page on this machine needs less.
const (
	headerWait  = 5 * time.Second
	readWait    = 10 * time.Second // the site gives more with every piece of an upload
	writeWait   = 30 * time.Second
	idleWait    = 60 * time.Second
	headerBytes = 64 << 10
	// maxUpload is above an hour of the fastest meters: 1000 rows a second of
	// some 30 bytes, twice over.
	maxUpload = 256 << 20
	// atOnce is how many analyses run at once: a bench has one visitor, and a
	// second core for the next.
	atOnce = 4
	// analysisWait is far above what the largest upload takes.
	analysisWait = 2 * time.Minute
	// farewell is how long answers that are on their way may take at the end.
	farewell = 300 * time.Millisecond
)

// serveOptions are the flags of serve.
type serveOptions struct {
	listen string
	hosts  words
	upload size
	open   bool
}

func newServe(s *streams) *cobra.Command {
	o := &serveOptions{upload: size{bytes: maxUpload}}
	o.hosts.name = "NAME"
	cmd := &cobra.Command{
		Use:   "serve",
		Short: "the same work on a local web page",
		Long: `Serves the same work as a page on this machine: drop the files of a plug-in in,
see the verdict, add bench readings, look at a part, compare two recordings. The
address is printed on standard error. Nothing leaves the machine, nothing is
written, and what is held is gone when the program ends (Ctrl-C).`,
		Example: `  portside serve
  portside serve --listen 127.0.0.1:8080 --open
  portside serve --listen 192.0.2.7:8080 --allow-host bench.example`,
		Args: operands(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error { return serve(cmd.Context(), s, o) },
	}
	f := cmd.Flags()
	f.SortFlags = false
	f.StringVar(&o.listen, "listen", "127.0.0.1:0", "`ADDRESS` to listen on; port 0 takes a free one")
	f.Var(&o.hosts, "allow-host", "name or address that browsers on other machines call this one by; repeatable")
	f.Var(&o.upload, "max-upload", "how large an upload may be, packed and unpacked (default 256MiB)")
	f.Lookup("max-upload").DefValue = "" // its own words say it in a unit
	f.BoolVar(&o.open, "open", false, "open the page in a browser")
	return cmd
}

// hostnames are the names the site answers to. An address that others reach
// must be asked for twice: whoever can reach it can read the results.
func (o *serveOptions) hostnames() ([]string, error) {
	host, _, err := net.SplitHostPort(o.listen)
	if err != nil {
		return nil, usage("--listen %s: expected ADDRESS:PORT, such as 127.0.0.1:8080 or [::1]:8080", o.listen)
	}
	if !site.Loopback(host) && len(o.hosts.values) == 0 {
		return nil, usage("--listen %s is open to other machines, and whoever reaches it can read the results; if that is meant, name with --allow-host what their browsers call this machine", o.listen)
	}
	return append([]string{"127.0.0.1", "localhost", "::1"}, o.hosts.values...), nil
}

// serve answers until it is interrupted.
func serve(ctx context.Context, s *streams, o *serveOptions) error {
	hosts, err := o.hostnames()
	if err != nil {
		return err
	}
	var wanted net.ListenConfig
	listener, err := wanted.Listen(ctx, "tcp", o.listen)
	if err != nil {
		return usage("--listen %s: %s", o.listen, socketCause(err))
	}
	defer func() { _ = listener.Close() }() // Shutdown closes it; this is for errors before
	port := listener.Addr().(*net.TCPAddr).Port
	handler, err := site.New(site.Config{
		Analyse: analyse, JSON: writeJSON, Command: pageCommand,
		Version: version, Standard: standard, Hosts: hosts, Port: port,
		MaxUpload: o.upload.bytes, MaxAnalyses: atOnce, Patience: analysisWait,
		Warn: func(err error) { _, _ = fmt.Fprintln(s.err, "portside: "+text.Safe(err.Error())) },
	})
	if err != nil {
		return err
	}
	return answer(ctx, s, o, limited(ctx, handler), listener)
}

// limited is a server that waits for nobody for ever.
func limited(ctx context.Context, handler http.Handler) *http.Server {
	return &http.Server{
		Handler: handler, ReadHeaderTimeout: headerWait, ReadTimeout: readWait, WriteTimeout: writeWait,
		IdleTimeout: idleWait, MaxHeaderBytes: headerBytes,
		ErrorLog:    log.New(io.Discard, "", 0), // visitors that break off; what matters is told by Warn
		BaseContext: func(net.Listener) context.Context { return ctx },
	}
}

func answer(ctx context.Context, s *streams, o *serveOptions, server *http.Server, listener net.Listener) error {
	address := o.address(listener.Addr().(*net.TCPAddr))
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	if slices.ContainsFunc(o.hosts.values, func(h string) bool { return !site.Loopback(h) }) {
		_, _ = fmt.Fprintln(s.err, "portside: other machines may reach this page, and it asks for no password")
	}
	if _, err := fmt.Fprintln(s.err, address); err != nil {
		return err
	}
	if o.open {
		browse(address)
	}
	select {
	case err := <-ended:
		return fmt.Errorf("the page cannot be served any more: %w", err)
	case <-ctx.Done():
	}
	last, cancel := context.WithTimeout(context.WithoutCancel(ctx), farewell)
	defer cancel()
	if err := server.Shutdown(last); err != nil {
		_ = server.Close() // answers that took too long
	}
	return nil
}

// address is what to open in a browser.
func (o *serveOptions) address(at *net.TCPAddr) string {
	host := at.IP.String()
	if !at.IP.IsLoopback() && len(o.hosts.values) > 0 {
		host = o.hosts.values[0]
	}
	return "http://" + net.JoinHostPort(host, strconv.Itoa(at.Port)) + "/"
}

// socketCause is the reason below the address that Go's errors repeat.
func socketCause(err error) error {
	var op *net.OpError
	if errors.As(err, &op) {
		return op.Err
	}
	return err
}

// browse opens the page. A machine without a browser is no error: the address
// stands on the screen.
func browse(address string) {
	name, args := "xdg-open", []string{address}
	switch runtime.GOOS {
	case "darwin":
		name = "open"
	case "windows":
		name, args = "rundll32", []string{"url.dll,FileProtocolHandler", address}
	}
	cmd := exec.Command(name, args...) //nolint:gosec // a fixed program and our own address
	if cmd.Start() == nil {
		go func() { _ = cmd.Wait() }()
	}
}

// pageCommand is the command line that makes the page's diagnosis.
func pageCommand(files []string, q site.Question) string {
	words := append([]string{"diagnose"}, files...)
	for _, r := range q.Readings {
		words = append(words, "--reading", r.String())
	}
	for _, f := range [][2]string{
		{"--meter-at", q.MeterAt}, {"--meter-accuracy", q.Accuracy}, {"--as", q.How.As}, {"--columns", q.How.Columns},
		{"--rate", q.How.Rate}, {"--signal", q.How.Signal}, {"--shift", q.How.Shift}, {"--from", q.How.From}, {"--to", q.How.To},
	} {
		if f[1] != "" {
			words = append(words, f[0], f[1])
		}
	}
	return commandLine(words)
}
