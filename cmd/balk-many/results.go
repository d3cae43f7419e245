package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"balk/cmd/internal/columns"
	"balk/cmd/internal/job"
	"balk/cmd/internal/many"

	"github.com/spf13/cobra"
)

// results writes the results of a batch into a file or a folder.
func (p *program) results() *cobra.Command {
	to := ""
	c := p.with("results [BATCH] --out FILE.parquet|DIR", "write the results of a batch, of the newest if none is named: as GeoParquet, or all tables and totals into a folder", cobra.MaximumNArgs(1), func(ctx context.Context, d *many.Database, args []string) error {
		if to == "" {
			return &job.WrongCall{Err: errors.New("--out: must be given")}
		}
		id, err := batchOf(ctx, d, args)
		if err != nil {
			return err
		}
		if _, err := d.Status(ctx, id); err != nil {
			return err
		}
		if filepath.Ext(to) != ".parquet" {
			return p.folder(ctx, d, id, to)
		}
		return whole(to, func(b *bufio.Writer) error { return columns.Write(b, d.Rows(ctx, id)) })
	})
	c.Flags().StringVar(&to, "out", "", "the file, where it ends with .parquet (one that is there is left as it is), else the folder")
	return c
}

// whole writes a file that is there whole or not at all, and writes over none.
func whole(path string, write func(*bufio.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), ".balk-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			_ = f.Close()
		}
		_ = os.Remove(f.Name()) // gone already where it has its name
	}()
	b := bufio.NewWriterSize(f, 1<<20)
	if err := write(b); err != nil {
		return err
	}
	if err := b.Flush(); err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	if err := os.Link(f.Name(), path); err != nil { // does not write over another, as Rename would
		return fmt.Errorf("%s: %w", path, err)
	}
	return nil
}
