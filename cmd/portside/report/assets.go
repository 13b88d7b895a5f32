package report

import (
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"html/template"
)

//go:embed page.html page.css page.js
var files embed.FS

// assets are the page's own style and script, which the templates may take as
// they are: nothing of an input goes through this file.
type assets struct {
	style  template.CSS
	script template.JS
	policy string // allows these two by their digests, and nothing else
}

func load() (assets, error) {
	css, err := files.ReadFile("page.css")
	if err != nil {
		return assets{}, err
	}
	script, err := files.ReadFile("page.js")
	if err != nil {
		return assets{}, err
	}
	return assets{
		style:  template.CSS(css),   //nolint:gosec // our own file
		script: template.JS(script), //nolint:gosec // our own file
		policy: "default-src 'none'; img-src data:; style-src 'sha256-" + digest(css) +
			"'; script-src 'sha256-" + digest(script) + "'; base-uri 'none'; form-action 'none'",
	}, nil
}

func digest(b []byte) string {
	sum := sha256.Sum256(b)
	return base64.StdEncoding.EncodeToString(sum[:])
}

// Style is the page's own style, for a page that has it from an address.
func Style() ([]byte, error) { return files.ReadFile("page.css") }

// Script is the page's own script; see [Style].
func Script() ([]byte, error) { return files.ReadFile("page.js") }
