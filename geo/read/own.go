package read

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"balk/geo"
)

// statesName is the one layer of balk's results that may be given back, as a track.
const statesName = "states"

// ownMark is the property in which every feature of a result of balk names its layer.
const ownMark = "balk"

// oldLayers are the properties by which results of balk without a mark are known: no other maker writes these side
// by side. In tables with short names some differ.
var oldLayers = []struct {
	layer string
	names []string
}{
	{"missed", []string{"strip", "cause", "mean_width_m"}},
	{"missed", []string{"strip", "cause", "mean_w_m"}},
	{"passes", []string{"gaps", "area_m2", "length_m"}},
	{statesName, []string{"activity", "inferred", "why"}},
	{"headland", []string{"number", "area_m2", "depth_m"}},
	{"double", []string{"number", "area_m2", "worked"}},
	{"unknown", []string{"number", "area_m2", "why"}},
	{"rework", []string{"does", "strips", "unfit"}},
}

// oldNames are the bits of the properties in oldLayers.
var oldNames = func() map[string]uint32 {
	bits := map[string]uint32{}
	for _, l := range oldLayers {
		for _, n := range l.names {
			if bits[n] == 0 {
				bits[n] = 1 << len(bits)
			}
		}
	}
	return bits
}()

// own is what the properties of a feature say of where it comes from.
type own struct {
	mark string
	seen uint32 // bits of oldNames
}

// see takes note of a property; mark: its value if it is the mark.
func (o *own) see(name []byte) {
	if len(name) <= len("mean_width_m") {
		o.seen |= oldNames[string(name)]
	}
}

// oldMasks are the bits of the properties of each of oldLayers.
var oldMasks = func() []uint32 {
	masks := make([]uint32, len(oldLayers))
	for i, l := range oldLayers {
		for _, n := range l.names {
			masks[i] |= oldNames[n]
		}
	}
	return masks
}()

// layer is the layer of balk's results that the feature is of; "": of none.
func (o *own) layer() string {
	if o.mark != "" || o.seen == 0 {
		return o.mark
	}
	for i, mask := range oldMasks {
		if o.seen&mask == mask {
			return oldLayers[i].layer
		}
	}
	return ""
}

// OwnError is a file that holds nothing but results of balk.
type OwnError struct {
	File  string
	Layer string
}

func (e *OwnError) Error() string {
	return fmt.Sprintf("%s: it is a result of balk (layer %q), and neither a field nor a track\nhint: give the file that it was made from%s", e.File, e.Layer, map[bool]string{true: "; of the results only the layer states can be given, as a track"}[e.Layer != statesName])
}

const ownBegins = "a result of balk"

// ownText is what is said of a feature of a result.
func ownText(layer string) string {
	return fmt.Sprintf(ownBegins+" (layer %q) is neither a field nor a track: left out", layer)
}

// NoLog says whether an error of Tracks is that of a file which holds something else: fields, what balk wrote, or what is of no
// format that is read.
func NoLog(path string, err error) bool {
	if _, own := errors.AsType[*OwnError](err); own {
		return true
	}
	if fault, ok := errors.AsType[*FileError](err); ok && (fault.strange || fault.other) {
		return true
	}
	_, report := reportOf(path)
	return report
}

// lossOf is the finding that a file, or a part of one, is left out because of an error; a result of balk is no loss.
func lossOf(file string, err error) geo.Finding {
	if own, ok := errors.AsType[*OwnError](err); ok {
		return geo.Finding{File: file, What: ownText(own.Layer)}
	}
	return geo.Finding{File: file, What: lossText(err), Lost: true}
}

// maxReport is the largest file taken for a report.
const maxReport = 64 << 20 // bytes

// reportOf says whether a file is the report of a result, by what stands in it, and which files were written with it,
// without their folders.
func reportOf(path string) (written map[string]bool, ok bool) {
	f, err := (*Files)(nil).Open(path) // not kept: it is no input
	if err != nil {
		return nil, false
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, maxReport))
	if err != nil || len(text) == 0 || text[0] != '{' {
		return nil, false
	}
	var top map[string]json.RawMessage
	if json.Unmarshal(text, &top) != nil || top["spec"] == nil || top["balance"] == nil && top["candidates"] == nil && top["turns"] == nil {
		return nil, false
	}
	var files []string
	written = map[string]bool{}
	if json.Unmarshal(top["files"], &files) == nil {
		for _, f := range files {
			written[filepath.Base(filepath.FromSlash(f))] = true
		}
	}
	return written, true
}

// isResult says whether the report of a result lies in a folder.
func isResult(dir string) bool {
	names, err := filepath.Glob(filepath.Join(dir, "*.json"))
	return err == nil && slices.ContainsFunc(names, func(path string) bool {
		_, ok := reportOf(path)
		return ok
	})
}

// leaveOwn notes a feature of a result.
func (t *tally) leaveOwn(record int, layer string) {
	layer = strings.ToValidUTF8(layer[:min(len(layer), 40)], "")
	if t.own == "" {
		t.own = layer
	}
	t.count(record, false, ownText(layer))
}
