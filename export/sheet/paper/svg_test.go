package paper

import (
	"bytes"
	"encoding/xml"
	"strings"
	"testing"
)

// Whatever the title, groups and their data say, the file is XML, with nothing in it that turns or hides writing.
func TestTextOutOfFilesInSVG(t *testing.T) {
	f, err := LoadFonts()
	if err != nil {
		t.Fatal(err)
	}
	const name = "North <&\"> \u202edleiF\x00\a\nx"
	l := New(100, 50, f)
	l.Title, l.Language = name, "en"
	l.Group(Group{Title: name, Data: [][2]string{{"strip", name}}, Clip: Rect(0, 0, 50, 50)}, func() {
		l.Text(10, 20, Lettering{Size: 10, Halo: 0.4}, name)
		l.Fill(Rect(1, 1, 90, 10).Path(), "#5B7A9980")
	})
	var b bytes.Buffer
	if err := l.SVG(&b); err != nil {
		t.Fatal(err)
	}
	if strings.ContainsAny(b.String(), "\u202e\x00\a") {
		t.Errorf("letters that are not shown:\n%q", b.String())
	}
	var got struct {
		Title string `xml:"title"`
		Group struct {
			Label string `xml:"aria-label,attr"`
			Strip string `xml:"data-strip,attr"`
			Clip  string `xml:"clip-path,attr"`
			Path  struct {
				Fill    string `xml:"fill,attr"`
				Opacity string `xml:"fill-opacity,attr"`
			} `xml:"path"`
			Text string `xml:"text"`
		} `xml:"g"`
	}
	if err := xml.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	want := got.Title
	if !strings.HasPrefix(want, `North <&"> `) || got.Group.Label != want || got.Group.Strip != want || got.Group.Clip != "url(#clip1)" || got.Group.Path.Fill != "#5B7A99" || got.Group.Path.Opacity != "0.5" || got.Group.Text != want {
		t.Errorf("%+v", got)
	}
}

// A line is one text, which says when it is read from the right, with the end that is aligned where it was put.
func TestDirectionsInSVG(t *testing.T) {
	f, err := LoadFonts()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		words             string
		align             align
		direction, anchor string
		x                 string
	}{
		{"Field 7", Left, "", "", "50"},
		{"Field 7", Right, "", "end", "50"},
		{"Field حقل 7", Centre, "", "middle", "50"},
		{"שדה 7, حقل", Left, "rtl", "end", "50"},
		{"שדה 7, حقل", Centre, "rtl", "middle", "50"},
		{"שדה 7, حقل", Right, "rtl", "", "50"},
	} {
		l := New(100, 50, f)
		l.Text(50, 20, Lettering{Size: 10, Align: c.align}, c.words)
		var b bytes.Buffer
		if err := l.SVG(&b); err != nil {
			t.Fatal(err)
		}
		var got struct {
			Texts []struct {
				X         string `xml:"x,attr"`
				Direction string `xml:"direction,attr"`
				Anchor    string `xml:"text-anchor,attr"`
				Words     string `xml:",chardata"`
			} `xml:"text"`
		}
		if err := xml.Unmarshal(b.Bytes(), &got); err != nil || len(got.Texts) != 1 {
			t.Fatalf("%v, %d texts", err, len(got.Texts))
		}
		if one := got.Texts[0]; one.X != c.x || one.Direction != c.direction || one.Anchor != c.anchor || one.Words != c.words {
			t.Errorf("%q, %d: %+v", c.words, c.align, one)
		}
	}
}
