package read

import (
	"strings"
	"testing"
)

// Points as programs write them are read by moulds, all but the first of them and what follows one of another text. Whether that gives
// the same is what TestWorkersReadTheSame asks.
func TestMouldsAreUsed(t *testing.T) {
	text := string(pointText(1000))
	for _, c := range []struct {
		name string
		text string
		fits int
	}{
		{"all alike", text, 999},
		{"spread over lines", strings.NewReplacer(`":`, `": `, `,"`, ",\n  \"").Replace(text), 999},
		{"a property without meaning", strings.ReplaceAll(text, `"width":6`, `"note":"a","width":6`), 999},
		{"with heights", strings.ReplaceAll(text, `]},"p`, `,412.5]},"p`), 999},
		{"a width that is missing twice", strings.Replace(strings.Replace(text, `"width":6,`, "", 1), `"width":6`, `"width":null`, 1), 997},
		{"lists as values", strings.ReplaceAll(text, `"width":6`, `"width":[6]`), 0},
		{"of no place", strings.ReplaceAll(text, `"type":"Point",`, ""), 999}, // what type it has is told by its brackets
		{"lines", strings.ReplaceAll(strings.ReplaceAll(strings.ReplaceAll(text, "[11", "[[11"), "]}", "],[11.6,48.1]]}"), "Point", "LineString"), 0},
	} {
		s := TrackOptions{}.scan(strings.NewReader(c.text), "f", "")
		fits := 0
		if !s.take('{') {
			t.Fatal(s.err)
		}
		for s.text(); s.take(':') && s.peek() != '['; s.text() {
			s.skip()
			s.take(',')
		}
		for range s.items() {
			s.record++
			before := s.casting.fits
			if s.feature(1); s.casting.fits > before {
				fits++
			}
		}
		if s.err != nil || s.record != 1000 || fits != c.fits {
			t.Errorf("%s: %d of %d fit a mould, want %d; %v", c.name, fits, s.record, c.fits, s.err)
		}
	}
}

// Properties that say something although no column is called so are seen in every feature: those by which old results of balk
// are known, and those that may be a work state.
func TestMouldsPassNothingOver(t *testing.T) {
	text := string(pointText(200))
	old := strings.ReplaceAll(text, `"width":6`, `"gaps":1,"area_m2":2,"length_m":3`)
	o := TrackOptions{}
	for _, byKeys := range []bool{true, false} {
		said := told(tracksAhead(strings.NewReader(text[:len(text)-2]+","+old[strings.Index(old, "\n{"):]), "f", o, ahead{byKeys: byKeys}))
		if !strings.Contains(said, `200 times`) || !strings.Contains(said, `"passes"`) {
			t.Errorf("by keys %t: %s", byKeys, said[max(0, len(said)-400):])
		}
	}
	s := o.scan(strings.NewReader(strings.ReplaceAll(text, `"state":`, `"tool":`)), "f", "")
	if s.object(true, 0); len(s.states.others) == 0 || s.states.others[0].counts != [2]int{100, 100} {
		t.Errorf("a property of two values: %+v", s.states.others)
	}
}
