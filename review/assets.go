package review

import (
	"embed"
	"mime"
	"net/http"
	"path"
	"strings"
)

// The built page; its source is review/web, and `make web-check` tells whether
// the two match.
//
//go:embed assets
var assets embed.FS

func (s *Server) page(name string) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) { serveAsset(w, name) }
}

func (s *Server) asset(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("file")
	if strings.HasSuffix(name, ".html") {
		writeFault(w, http.StatusNotFound, "there is no such file")
		return
	}
	serveAsset(w, name)
}

func serveAsset(w http.ResponseWriter, name string) {
	data, err := assets.ReadFile("assets/" + path.Base(name))
	if err != nil {
		writeFault(w, http.StatusNotFound, "there is no such file")
		return
	}
	w.Header().Set("Content-Type", assetType(name))
	_, _ = w.Write(data) // a reader that has gone cannot be told
}

// assetType does not ask the machine's table, which may call a script plain text.
func assetType(name string) string {
	switch path.Ext(name) {
	case ".html":
		return "text/html; charset=utf-8"
	case ".js":
		return "text/javascript; charset=utf-8"
	case ".css":
		return "text/css; charset=utf-8"
	case ".svg":
		return "image/svg+xml"
	}
	return mime.TypeByExtension(path.Ext(name))
}
