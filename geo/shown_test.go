package geo

import "testing"

func TestShown(t *testing.T) {
	// The characters are named as in the Unicode character database; which of them turn the direction of
	// writing is UAX 9, section 2.
	for _, c := range []struct{ situation, text, want string }{
		{"letters, digits, signs", "Łąka 北の田 שדה ½ ha, №3 🌾", "Łąka 北の田 שדה ½ ha, №3 🌾"},
		{"marks as letters of their own", "Mu\u0308ller", "Mu\u0308ller"},
		{"joiners of Persian and Hindi", "می\u200cخواهم क्\u200dष", "می\u200cخواهم क्\u200dष"},
		{"spaces and ends of lines", "a\u00a0b\u3000c\td\r\ne\u2028f\u2029g\u0085h", "a b c d  e f g h"},
		{"an escape, a bell, a backspace, nothing", "\x1b[31mred\a\b\x00\x7f", "�[31mred����"},
		{"C1 controls", "\u009b31m", "�31m"},
		{"overrides and embeddings", "\u202a\u202b\u202c\u202d\u202e", "�����"},
		{"isolates", "\u2066\u2067\u2068\u2069", "����"},
		{"marks of direction", "\u200e\u200f\u061c", "���"},
		{"what cannot be seen", "\ufeff\u00ad\u2060\u200b\ue000\U000e0041", "������"},
		{"no text at all", "a\xffb", "a�b"},
	} {
		if got := Shown(c.text); got != c.want {
			t.Errorf("%s: %q, want %q", c.situation, got, c.want)
		}
		if once := Shown(c.text); Shown(once) != once {
			t.Errorf("%s: shown twice it is another", c.situation)
		}
	}
}
