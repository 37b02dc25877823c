//go:build !unix

package private

import (
	"context"
	"errors"
)

// Server is a private PostgreSQL; there is none on this system.
type Server struct{}

// Start always fails here: the server needs a Unix system.
func Start(context.Context, Options) (*Server, error) {
	return nil, errors.New("a private PostgreSQL needs Linux, macOS or another Unix: name a server in KERFBOOK_DATABASE_URL")
}

// URL is empty here.
func (*Server) URL() string { return "" }

// BinDir is empty here.
func (*Server) BinDir() string { return "" }

// Stop does nothing here.
func (*Server) Stop(context.Context) error { return nil }

// FollowGoRun does nothing here.
func FollowGoRun() {}
