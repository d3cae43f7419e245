package main

import (
	"context"
	"iter"
	"path"
	"path/filepath"
	"strings"

	"balk/cmd/internal/batch"
	"balk/cmd/internal/bucket"
)

// sources are batch.Sources, those in stores among them.
func sources(ctx context.Context, named []string, out string) (batch.Source, error) {
	s := opener{several: len(named) > 1}
	var onDisk []string
	for _, one := range named {
		if strings.HasPrefix(one, bucket.Scheme) {
			s.stores = append(s.stores, one)
		} else {
			onDisk = append(onDisk, one)
		}
	}
	if len(onDisk) == 0 {
		return s, nil
	}
	var err error
	s.disk, err = batch.Sources(ctx, onDisk, out)
	return s, err
}

// opener lists and opens logs wherever they lie.
type opener struct {
	batch.OnDisk
	disk    batch.Source // nil = none there
	stores  []string
	several bool // sources
}

// Logs are those of the stores, and those on the disk, by paths from anywhere.
func (o opener) Logs(ctx context.Context) iter.Seq2[batch.Log, error] {
	return func(yield func(batch.Log, error) bool) {
		for _, one := range o.stores {
			for l, err := range bucket.Logs(ctx, one) {
				if o.several {
					l.Name = path.Join(strings.TrimPrefix(one, bucket.Scheme), l.Name)
				}
				if !yield(l, err) || err != nil {
					return
				}
			}
		}
		if o.disk == nil {
			return
		}
		for l, err := range o.disk.Logs(ctx) {
			for _, p := range []*string{&l.Path, &l.Set} {
				if err == nil && *p != "" && !strings.HasPrefix(*p, bucket.Scheme) {
					*p, err = filepath.Abs(*p)
				}
			}
			if !yield(l, err) || err != nil {
				return
			}
		}
	}
}

// Open is that of batch.Source.
func (o opener) Open(ctx context.Context, l batch.Log) (string, func(), error) {
	if strings.HasPrefix(l.Path, bucket.Scheme) {
		return bucket.Fetch(ctx, l)
	}
	return o.OnDisk.Open(ctx, l)
}
