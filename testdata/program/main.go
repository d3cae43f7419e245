// Command program checks a field with the packages of balk instead of its command: go run ./testdata/program FIELD TRACK.
package main

import (
	"bytes"
	"context"
	"fmt"
	"log"
	"os"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/export/vector"
	"balk/geo"
	"balk/geo/read"
)

func main() {
	log.SetFlags(0)
	if len(os.Args) != 3 {
		log.Fatal("FIELD and TRACK are wanted")
	}
	if err := check(context.Background(), os.Args[1], os.Args[2]); err != nil {
		log.Fatal(err)
	}
}

func check(ctx context.Context, boundary, log string) error {
	// Readers tell the format by content, and give what is good with findings on the rest.
	fields, findings, err := read.Fields(boundary, read.Options{})
	if err != nil {
		return err
	}
	tracks, more, err := read.Tracks(log, read.TrackOptions{})
	if err != nil {
		return err
	}
	for _, f := range append(findings, more...) {
		fmt.Fprintln(os.Stderr, f)
	}
	// Fixes that cannot be true are set aside, and named.
	for i, raw := range tracks {
		clean, aside := geo.Clean(raw)
		tracks[i] = clean
		for _, f := range geo.Findings(raw, i+1, aside) {
			fmt.Fprintln(os.Stderr, f)
		}
	}
	// Degrees come in and go out; inside, all is metres on the plane of the field. The bar of this mounted set is 2.8 m behind the antenna.
	work := drive.Work{Width: 6, Overlap: 0.10, Rounds: 3, Mount: rig.Mount{AntennaAhead: 0.5, Hitch: 1.7, BarBehind: 1.1}}
	result, err := coverage.Check(ctx, fields[0], tracks, work)
	if err != nil {
		return err
	}
	b := result.Balance
	fmt.Printf("%s: %.2f ha, missed %.2f %%, worked twice or more %.2f %%\n", fields[0].Name, b.Field/1e4, 100*b.Missed/b.Field, 100*(b.Twice+b.More)/b.Field)
	for _, s := range result.Strips[:min(3, len(result.Strips))] {
		fmt.Printf("  strip %d: %.0f m², %s, %s\n", s.Number, s.Area, s.Surety, s.Cause)
	}
	var missed bytes.Buffer
	if err := vector.Write(&missed, "missed", result); err != nil {
		return err
	}
	return os.WriteFile("missed.geojson", missed.Bytes(), 0o644)
}
