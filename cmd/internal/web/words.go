package web

import (
	"net/http"

	"balk/export/words"
)

// Words are what the page says in a language, by its English. Values stand where %s is.
type Words map[string]string

// heads puts English words or sentences among those of the page.
func (w Words) heads(l words.Language, english ...string) {
	for _, e := range english {
		w[e] = l.Word(e)
	}
}

func wordsOf(_ *shelf, w http.ResponseWriter, r *http.Request) error {
	l, err := languageOf(r)
	if err != nil {
		return err
	}
	return give(w, pageWords(l))
}

// pageWords are all that the sources of the page ask for; a test holds both together.
func pageWords(l words.Language) Words {
	w := Words{}
	w.heads(l,
		"As driven",
		"Balance",
		"Cancel",
		"Choose a folder",
		"Choose files",
		"Closer",
		"Copy",
		"Drop the boundary and the log of an operation here, with the file of the set if there is one: several files, or a folder.",
		"Farther",
		"Hand over",
		"Here already",
		"Leave out",
		"Look at it",
		"Measure a length",
		"Measure an area",
		"Missed strips",
		"Missed strips, largest first",
		"Missed strips, those first that win most per minute",
		"Operation",
		"Other files",
		"Remarks",
		"Remove",
		"Replay",
		"See what was missed",
		"The same from the command line",
		"This cannot be shown",
		"Try the invented farm",
		"What if",
		"What to do now",
		"Whole field",
		"along",
		"antenna right of middle, m",
		"antenna to hitch, m",
		"as driven",
		"as supposed",
		"bar behind, m",
		"bar right of middle, m",
		"by order",
		"by speed",
		"click corners on the map, twice at the last",
		"drawbar, m",
		"faster",
		"field",
		"first passes",
		"from the log",
		"headland",
		"headland rounds",
		"how much is worked again",
		"last passes",
		"length",
		"lifted",
		"making the farm",
		"map of the field",
		"missed",
		"m² a minute",
		"no files chosen",
		"not worth a visit by themselves: %s",
		"overlap, m",
		"pass %s",
		"pass-to-pass error, m",
		"passes",
		"passes in the order driven, and the speed",
		"plain",
		"strip",
		"strip %s",
		"strips",
		"taking the files",
		"three times or more",
		"time",
		"turn too tight",
		"unknown (log gap)",
		"until done",
		"up to %s km/h",
		"widest",
		"work %s of %s again: %s, %s",
		"work none again",
		"worked once",
		"worked outside",
		"worked twice",
		"worked twice or more",
		"working it out …",
		"working out the ground",
		"working width, m",
		"Correct",
		"what was it?",
		"this stretch was worked",
		"here the tool was lifted",
		"set these fixes aside",
		"a gate is here",
		"an obstacle is here",
		"another boundary",
		"from",
		"to",
		"From the time shown",
		"Up to the time shown",
		"Draw it on the map",
		"who says so",
		"why",
		"say from when and to when, as 06:30:00",
		"draw it on the map first",
		"Take back",
	)
	return w
}
