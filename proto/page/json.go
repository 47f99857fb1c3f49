package page

import (
	"encoding/json"
	"net/http"
)

// JSON answers with v as JSON that nobody keeps. The status is sent first; a
// page that went away cannot be told anything more.
func JSON(w http.ResponseWriter, status int, v any) {
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(v)
}
