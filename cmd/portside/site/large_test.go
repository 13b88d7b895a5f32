package site_test

import (
	"bufio"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/cmd/portside/site"
)

// live serves a site that takes little and gives its address.
func live(t *testing.T) string {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	c := config()
	c.Port, c.MaxUpload = listener.Addr().(*net.TCPAddr).Port, 1<<20
	h, err := site.New(c)
	require.NoError(t, err)
	server := httptest.NewUnstartedServer(h)
	_ = server.Listener.Close() // the one it made itself
	server.Listener = listener
	server.Start()
	t.Cleanup(server.Close)
	return listener.Addr().String()
}

// A visitor that reads nothing before all is sent, as simple clients do, gets
// its answer too.
func TestTooLargeForASimpleClient(t *testing.T) {
	host := live(t)
	for name, length := range map[string]string{"declared": "Content-Length: 41943040\r\n", "not declared": "Transfer-Encoding: chunked\r\n"} {
		t.Run(name, func(t *testing.T) {
			c, err := net.Dial("tcp", host)
			require.NoError(t, err)
			defer c.Close()
			require.NoError(t, c.SetDeadline(time.Now().Add(40*time.Second)))
			_, err = fmt.Fprintf(c, "POST /recordings HTTP/1.1\r\nHost: %s\r\n%sContent-Type: multipart/form-data; boundary=x\r\n\r\n", host, length)
			require.NoError(t, err)
			head := "--x\r\nContent-Disposition: form-data; name=\"file\"; filename=\"a.csv\"\r\n\r\n"
			body := head + strings.Repeat(" ", 40<<20-len(head))
			if name == "not declared" {
				body = fmt.Sprintf("%x\r\n%s\r\n0\r\n\r\n", len(body), body)
			}
			_, err = c.Write([]byte(body))
			require.NoError(t, err)
			answer, err := http.ReadResponse(bufio.NewReader(c), nil)
			require.NoError(t, err)
			defer answer.Body.Close()
			assert.Equal(t, http.StatusRequestEntityTooLarge, answer.StatusCode)
		})
	}
}
