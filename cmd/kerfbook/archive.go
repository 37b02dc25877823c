package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"time"

	"kerfbook/internal/postgres/archive"
)

type backupCmd struct {
	File string `arg:"" help:"File to write; it appears when it is whole."`
}

// Run writes a backup.
func (c backupCmd) Run(ctx context.Context, cfg Config, s streams) error {
	return withTables(ctx, cfg, s, func(b *book) error {
		info, err := archive.BackupFile(ctx, b.db, c.File, progress(s.err))
		if err == nil {
			_, err = fmt.Fprintf(s.out, "%s holds %d tables as of %s.\n", c.File, info.Tables, info.MadeAt.Format(time.RFC3339))
		}
		return err
	})
}

type restoreCmd struct {
	File    string `arg:"" help:"File to read."`
	Replace bool   `help:"Take away the book that is there now."`
}

// Run reads a backup. The database stays as it was unless all of it can be read.
func (c restoreCmd) Run(ctx context.Context, cfg Config, s streams) error {
	return withBook(ctx, cfg, s, func(b *book) error {
		info, err := archive.RestoreFile(ctx, b.db, c.File, archive.Options{Replace: c.Replace, Progress: progress(s.err)})
		if err == nil {
			_, err = fmt.Fprintf(s.out, "The book of %s is back, %d tables.\n", info.MadeAt.Format(time.RFC3339), info.Tables)
		}
		return err
	})
}

// progress writes one line a table.
func progress(w io.Writer) func(archive.Progress) {
	return func(p archive.Progress) {
		fmt.Fprintf(w, "%3d of %d  %-24s %d rows\n", p.Done, p.Total, p.Table, p.Rows)
	}
}

type printCmd struct {
	Paper  string `arg:"" help:"Kind of paper: quote, order, invoice, receipt, jobcard, label, parts, handover, run, site."`
	Number string `arg:"" help:"Its number."`
	Output string `short:"o" required:"" help:"File to write; - for standard output." placeholder:"FILE"`
}

// Run writes the stored bytes of an issued paper, or draws it from its record.
func (c printCmd) Run(ctx context.Context, cfg Config, s streams) error {
	return withTables(ctx, cfg, s, func(b *book) error {
		pdf, err := newRooms(b.db).answer.Paper(ctx, c.Paper, c.Number)
		if err != nil {
			return err
		}
		if c.Output == "-" {
			_, err = s.out.Write(pdf)
			return err
		}
		return os.WriteFile(c.Output, pdf, 0o644)
	})
}
