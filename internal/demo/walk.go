package demo

import (
	"context"
	"io"
)

// Visit says how a running kerfbook is reached.
type Visit struct {
	URL    string
	Token  string
	Papers string // folder for the papers; empty: none are written
	Out    io.Writer
}

// Walk takes one new job through the REST address.
func Walk(ctx context.Context, v Visit) error { return nil }
