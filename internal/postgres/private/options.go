package private

import "log/slog"

// Options say where and how a private server runs.
type Options struct {
	// Dir is the data folder; it is made if need be.
	Dir string
	// BinDir is the folder with postgres and initdb; empty: look for it.
	BinDir string
	// Log hears what happens; nil: nobody.
	Log *slog.Logger
	// Throwaway runs without waiting for the disk, for data that may be lost (tests).
	Throwaway bool
}
