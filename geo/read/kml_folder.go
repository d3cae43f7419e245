package read

import (
	"encoding/xml"
	"math"
	"strings"
)

// kmlFolders are the folders and documents of a KML that are open, which are its layers.
type kmlFolders struct {
	how   Taking
	files *Files
	reset func() // forgets what was read before a folder with a name that is asked for
	open  []kmlFolder
	met   bool // there is such a one: nothing but what is in it is read
}

type kmlFolder struct {
	name   string
	chosen bool
}

func isFolder(name string) bool { return name == "Folder" || name == "Document" }

// start sees an element begin; named says that the text is wanted of it.
func (f *kmlFolders) start(e xml.StartElement, parent string) (named bool) {
	if isFolder(e.Name.Local) {
		f.open = append(f.open, kmlFolder{})
	}
	return e.Name.Local == "name" && isFolder(parent) && len(f.open) > 0
}

// end sees one end.
func (f *kmlFolders) end(name, parent string, text []byte) {
	switch {
	case len(f.open) == 0:
	case isFolder(name):
		f.open = f.open[:len(f.open)-1]
	case name == "name" && isFolder(parent):
		in := &f.open[len(f.open)-1]
		in.name = strings.ToValidUTF8(string(text), "\uFFFD")
		if _, in.chosen = f.how.named(f.files, []string{in.name}); in.chosen && !f.met {
			f.met = true
			f.reset()
		}
	}
}

// takes says whether what comes is read.
func (f *kmlFolders) takes() bool {
	for _, in := range f.open {
		if in.chosen {
			return true
		}
	}
	return !f.met
}

// name is that of the innermost folder that has one.
func (f *kmlFolders) name() string {
	for i := len(f.open) - 1; i >= 0; i-- {
		if f.open[i].name != "" {
			return f.open[i].name
		}
	}
	return ""
}

// severalFolders refuses tracks of which those of some folders have times and those of others have none, and are not the same
// drawn as a line: they are something else, such as fences. in names the folder of each.
func (f *kmlFolders) severalFolders(file string, tracks []*growing, in map[*growing]string) error {
	type held struct{ timed, untimed int }
	folders, places := map[string]*held{}, map[[2]float64]bool{}
	place := func(g *growing, i int) [2]float64 {
		return [2]float64{math.Round(g.flat[i] * 1e6), math.Round(g.flat[i+1] * 1e6)} // a decimetre
	}
	timed := func(g *growing) bool {
		for i := 2; i < len(g.flat); i += 3 {
			if !math.IsNaN(g.flat[i]) {
				return true
			}
		}
		return false
	}
	var names []string
	some, others := false, false
	for _, g := range tracks {
		if timed(g) {
			some = true
			for i := 0; i < len(g.flat); i += 3 {
				places[place(g, i)] = true
			}
		}
	}
	for _, g := range tracks {
		h := folders[in[g]]
		if h == nil {
			h = &held{}
			folders[in[g]], names = h, append(names, in[g])
		}
		if timed(g) {
			h.timed += g.fixes()
			continue
		}
		apart := 0
		for i := 0; i < len(g.flat); i += 3 {
			if !places[place(g, i)] {
				apart++
			}
		}
		h.untimed += g.fixes()
		others = others || 10*apart > g.fixes()
	}
	if !some || !others || len(names) < 2 || len(f.how.Layers) > 0 {
		return nil
	}
	var words []string
	for _, n := range names {
		if h := folders[n]; h.timed > 0 {
			words = append(words, countOf(h.timed+h.untimed, "fix", "fixes"))
		} else {
			words = append(words, countOf(h.untimed, "fix without time", "fixes without times"))
		}
	}
	return f.how.severalLayers(file, "tracks, some with times and some without", names, words)
}
