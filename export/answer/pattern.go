package answer

import (
	"math"

	"balk/coverage/pattern"
	"balk/export/words"
)

// compass is a direction in degrees from true north, as people name it.
func compass(l words.Language, degrees float64) string {
	names := [8]string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}
	return l.Word(names[int(math.Round(degrees/45)+8)%8])
}

// common is what missed ground has in common, after its area, as it stands in a list.
func common(l words.Language, p pattern.Pattern, area string) string {
	towards, cm := compass(l, p.Towards), 1e4*p.By
	switch p.Kind {
	case pattern.Late:
		return l.Say("%[1]s at row ends in the %[2]s, where at %[3]d of %[4]d the tool came in %.1[5]f m late (%.1[6]f to %.1[7]f)", area, towards, p.Seen, p.Of, p.By, p.Least, p.Most)
	case pattern.Early:
		return l.Say("%[1]s at row ends in the %[2]s, where at %[3]d of %[4]d the tool was lifted %.1[5]f m early (%.1[6]f to %.1[7]f)", area, towards, p.Seen, p.Of, p.By, p.Least, p.Most)
	case pattern.Short:
		return l.Say("%[1]s at row ends in the %[2]s, where %[3]d of %[4]d stay %.1[5]f m short of what is worked (%.1[6]f to %.1[7]f)", area, towards, p.Seen, p.Of, p.By, p.Least, p.Most)
	case pattern.Shifted:
		return l.Say("%[1]s where the line was shifted: from pass %[2]d on all lie %.2[3]f m to the %[4]s", area, p.Passes[0], p.By, towards)
	case pattern.Fan:
		return l.Say("%[1]s between passes %[2]d to %[3]d, each of which turns by %.0[4]f cm in 100 m against its neighbour, so that joins open to the %[5]s", area, p.Passes[0], p.Passes[1], cm, towards)
	case pattern.Slide:
		return l.Say("%[1]s between passes %[2]d to %[3]d, which drift to the %[4]s by %.0[5]f cm in 100 m", area, p.Passes[0], p.Passes[1], towards, cm)
	case pattern.Aside:
		if p.By < 0 {
			return l.Say("%[1]s at every other join: wide and narrow ones take turns with the direction of travel and differ by %.2[2]f m, as if the bar hung %.2[3]f m to the left", area, 4*-p.By, -p.By)
		}
		return l.Say("%[1]s at every other join: wide and narrow ones take turns with the direction of travel and differ by %.2[2]f m, as if the bar hung %.2[3]f m to the right", area, 4*p.By, p.By)
	case pattern.Apart:
		return l.Say("%[1]s between lines laid %.2[2]f m farther apart than planned, at %[3]d of %[4]d joins", area, p.By, p.Seen, p.Of)
	}
	switch p.End {
	case pattern.LeftEnd:
		return l.Say("%[1]s under the left end of the bar, of which %.2[2]f m never worked", area, p.By)
	case pattern.RightEnd:
		return l.Say("%[1]s under the right end of the bar, of which %.2[2]f m never worked", area, p.By)
	}
	return l.Say("%[1]s under a part of the bar, %.2[2]f m wide, that never worked", area, p.By)
}

// remedy is what would prevent a pattern the next time.
func remedy(l words.Language, p pattern.Pattern) string {
	switch p.Kind {
	case pattern.Late:
		return l.Say("Lower %.1f m earlier there.", p.By)
	case pattern.Early:
		return l.Say("Lift %.1f m later there.", p.By)
	case pattern.Short:
		return l.Say("Work rows %.1f m farther there, or lay one more round.", p.By)
	case pattern.Shifted:
		return l.Word("After a stop or a new start of the receiver look at the join before you go on; do not shift a line between passes.")
	case pattern.Fan:
		return l.Word("Lay all passes by one line, not each by the one before it.")
	case pattern.Slide:
		return l.Word("The set is drawn aside as it goes: by a slope, or by its draught. Steer by the place of the bar, not of the tractor.")
	case pattern.Aside:
		return l.Word("A tape at three joins decides; then set the offset of the bar in the guidance. A wider overlap does not cure it.")
	case pattern.Apart:
		return l.Say("Lay lines %.2f m nearer: look what width the guidance is set to.", p.By)
	}
	return l.Word("See whether that part was up, by its switch or its hydraulics, or whether only its signal is missing in the log.")
}

// Patterns are lines for a list: what missed ground has in common, and what would prevent it.
func Patterns(patterns []pattern.Pattern, l words.Language) (lines []string) {
	for _, p := range patterns {
		lines = append(lines, common(l, p, l.Say("%.0f m²", p.Area))+". "+remedy(l, p))
	}
	return lines
}
