package cli

import (
	"regexp"
	"testing"
)

// A fault of the call is told in balk's words, with the name that may have been meant and the page of help for the verb.
func TestWrongCalls(t *testing.T) {
	library := regexp.MustCompile(`arg\(s\)|shorthand|flags in the group|strconv|invalid argument|unknown command|required flag|key=value`)
	for want, args := range map[string][]string{
		"balk: chek: no such verb; did you mean check?\nbalk: see: balk help\n":                                                 {"chek"},
		"balk: hadnover: no such verb; did you mean handover?\nbalk: see: balk help\n":                                          {"hadnover"},
		"balk: shw: no such verb; did you mean show?\nbalk: see: balk help season\n":                                            {"season", "shw"},
		"balk: --dose: no such flag; did you mean --does?\nbalk: see: balk help season add\n":                                   {"season", "add", "a", "--dose", "cuts"},
		"balk: --lang: no such flag; did you mean --language?\nbalk: see: balk help check\n":                                    {"check", "a", "b", "--lang", "de"},
		"balk: completion fishh: no such shell; there are bash, fish, powershell, zsh\nbalk: see: balk help completion\n":       {"completion", "fishh"},
		"balk: completion: no shell given; there are bash, fish, powershell, zsh\nbalk: see: balk help completion\n":            {"completion"},
		"balk: completion fish: nothing more is wanted, not x\nbalk: see: balk help completion fish\n":                          {"completion", "fish", "x"},
		"balk: completion fishh: Shell gibt es nicht; es gibt bash, fish, powershell, zsh\nbalk: siehe: balk help completion\n": {"completion", "fishh", "--language", "de"},
		"balk: plough: no such verb\nbalk: see: balk help\n":                                                                    {"plough"},
		"balk: --widht: no such flag; did you mean --width?\nbalk: see: balk help check\n":                                      {"check", "a", "b", "--widht", "5"},
		"balk: --pass-eror: no such flag; did you mean --pass-error?\nbalk: see: balk help handover\n":                          {"handover", "a", "b", "--pass-eror=1"},
		"balk: --colour: no such flag\nbalk: see: balk help check\n":                                                            {"check", "a", "b", "--colour", "red"},
		"balk: -x: no such flag; names of flags stand after two dashes\nbalk: see: balk help check\n":                           {"check", "-x", "a", "b"},
		"balk: --width five: \"five\" is no number of metres\nbalk: see: balk help check\n":                                     {"check", "a", "b", "--width", "five"},
		"balk: --rounds x: is no whole number\nbalk: see: balk help check\n":                                                    {"check", "a", "b", "--width", "5", "--rounds", "x"},
		"balk: --crs abc: is no whole number\nbalk: see: balk help turn\n":                                                      {"turn", "a", "--crs", "abc"},
		"balk: --mend maybe: must be true or false, or left out\nbalk: see: balk help check\n":                                  {"check", "a", "b", "--mend=maybe"},
		"balk: --warmth-base y: \"y\" is no number of degrees\nbalk: see: balk help check\n":                                    {"check", "a", "b", "--warmth-base", "y"},
		"balk: --column x: must be NAME=VALUE\nbalk: see: balk help check\n":                                                    {"check", "a", "b", "--column", "x"},
		"balk: --headland and --rounds: only one of them may be given\nbalk: see: balk help check\n":                            {"check", "a", "b", "--width", "5", "--rounds", "2", "--headland", "5"},
		"balk: --width: wants a value: working width of the whole bar; it wins over the implement file and over logged widths, of which the parts lifted still count. \"logged\" takes the widths as logged\nbalk: see: balk help check\n": {"check", "a", "b", "--width"},
		"balk: balk spots read CHECKS [FIELD] [TRACK...]: at least 1 wanted, not 0\nbalk: see: balk help spots read\n":                                                                                                                     {"spots", "read"},
		"balk: balk spots read CHECKS [FIELD] [TRACK...]: mindestens 1 gehören dazu, nicht 0\nbalk: siehe: balk help spots read\n":                                                                                                         {"spots", "read", "--language", "de"},
	} {
		code, stdout, stderr := run(t.Context(), args...)
		if code != wrongCall || stdout != "" || stderr != want {
			t.Errorf("%q: %d, %q,\nwant %q", args, code, stderr, want)
		}
	}
	for _, args := range [][]string{{"turn", "a", "b"}, {"turn"}, {"turn", "a"}, {"compare"}, {"compare", "a", "b"}, {"compare", "a", "--widths", "5"}, {"compare", "a", "--speed", "8"}, {"check", "a", "b"}, {"handover"}, {"demo"}, {"demo", "a", "b"},
		{"-x"}, {"--chek"}, {"help", "chek"}, {"check", "a", "b", "--pass-error"}, {"check", "a", "b", "--layer"}} {
		code, stdout, stderr := run(t.Context(), args...)
		if code != wrongCall || stdout != "" || library.MatchString(stderr) {
			t.Errorf("%q: %d, %q", args, code, stderr)
		}
	}
}
