package answer

import (
	"fmt"
	"math"
	"strings"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/export/words"
)

// First are the sentences that stand before all figures, one for each thing that the log says otherwise than the set's description, with
// what is missed either way. missed is in m², as described.
func First(l words.Language, o coverage.Open, missed float64) []string {
	var out []string
	if a := o.Aside; a.Joins {
		say := "The joins say otherwise than the set's description, as if the bar ran %.2f m farther right (give or take %.0f cm): missed are %s as described, %s by the joins, and three joins measured with a tape decide."
		if a.By < 0 {
			say = "The joins say otherwise than the set's description, as if the bar ran %.2f m farther left (give or take %.0f cm): missed are %s as described, %s by the joins, and three joins measured with a tape decide."
		}
		out = append(out, l.Say(say, math.Abs(a.By), 100*a.Doubt, Area(l, missed), Area(l, a.Missed)))
	}
	if g := o.Lag; g.Ends > 0 {
		say := "Row ends say otherwise than the set's description: rows begin %.1f m (give or take %.1f) farther out than those beside them end, in every direction; missed are %s as described, %s if the bar follows the logged state by %.1f s, %s if it lies %.1f m nearer to the antenna%s."
		if g.Metres < 0 {
			say = "Row ends say otherwise than the set's description: rows begin %.1f m (give or take %.1f) farther in than those beside them end, in every direction; missed are %s as described, %s if the logged state follows the bar by %.1f s, %s if it lies %.1f m farther from the antenna%s."
		}
		habit := ""
		switch byDriver := g.Favours != drive.LagSeconds && g.Whose == drive.LagDriver; {
		case byDriver && g.Metres > 0:
			habit = l.Word("; it looks as if the driver ended rows early, and then the first holds")
		case byDriver:
			habit = l.Word("; it looks as if the driver began rows late, and then the first holds")
		}
		m := math.Abs(g.Metres)
		out = append(out, l.Say(say, 2*m, 2*g.Doubt, Area(l, missed), Area(l, g.BySeconds), m/g.Speed, Area(l, g.ByMetres), m, habit))
	}
	if s := o.Shift; s.Beyond {
		out = append(out, l.Say("All of the log seems to lie %.2f m off the boundary towards %.0f°, more than its receiver errs by: %s are missed as logged, %s without that.", math.Hypot(s.East, s.North), towards(s.East, s.North), Area(l, missed), Area(l, s.Missed)))
	}
	return out
}

// Holds are the sentences below the range of missed ground: on what it stands.
func Holds(l words.Language, o coverage.Open) []string {
	var out []string
	if a := o.Aside; a.By != 0 && !a.Joins {
		say := "Were the bar %.0f cm farther right, which no log can tell, %s would be missed: measure three joins with a tape."
		if a.By < 0 {
			say = "Were the bar %.0f cm farther left, which no log can tell, %s would be missed: measure three joins with a tape."
		}
		out = append(out, l.Say(say, 100*math.Abs(a.By), Area(l, a.Missed)))
	}
	if o.Lag.Ends > 0 {
		out = append(out, onLag(l, o.Lag)...)
	}
	if f := o.Frame; f.Told || f.Most {
		say := "In two frames (log and boundary, %[1]s: %.2[2]f m) %[4]s are missed: --frame."
		if f.Told {
			say = "The boundary is in the frame of maps (%s); were the log in the satellites' (%.2f m towards %.0f°), %s would be missed: --frame."
		}
		out = append(out, l.Say(say, f.Map, math.Hypot(f.East, f.North), towards(f.East, f.North), Area(l, f.Missed)))
	}
	if e := o.Ends; e.Rows > 0 {
		out = append(out, l.Say("No work state is logged: the %d row ends are by rule. Were all %.0f m shorter, %s would be missed, were they as much longer, %s: look at them.", e.Rows, e.By, Area(l, e.Later), Area(l, e.Early)))
	}
	return out
}

// onLag says what speaks for which reading of row ends that the set's description does not fit, and what its file would take.
func onLag(l words.Language, g coverage.Lag) []string {
	favours := l.Word("passes at other speeds do not tell which")
	switch g.Favours {
	case drive.LagSeconds:
		favours = l.Say("passes at other speeds favour the delay (%.1f s, give or take %.1f)", math.Abs(g.Seconds), g.Within)
	case drive.LagMetres:
		favours = l.Say("passes at other speeds favour the place (%.1f s, give or take %.1f)", math.Abs(g.Seconds), g.Within)
	}
	say := "On row ends: %s; nothing of it is applied, the set's file takes lowerDelay = %s and liftDelay = %s, or a shorter hitch."
	if g.Metres < 0 {
		say = "On row ends: %s; nothing of it is applied, the set's file takes lowerDelay = %s and liftDelay = %s, or a longer hitch."
	}
	out := []string{l.Say(say, favours, seconds(g.Lower), seconds(g.Lift))}
	m := math.Abs(g.Metres)
	switch { // drivers' habits go by the place, delays by the speed
	case g.Favours == drive.LagSeconds:
	case g.Whose == drive.LagSet:
		out = append(out, l.Say("Measured outward from the headland's edge, rows begin at %.1f m and end at %.1f m. That lies to either side of where drivers work to, so it is the set, and no habit of the driver.", g.Begin, g.End))
	case g.Whose == drive.LagDriver:
		out = append(out, l.Say("Measured outward from the headland's edge, rows begin at %.1f m and end at %.1f m, one of them where drivers work to.", g.Begin, g.End))
	case g.Metres > 0:
		out = append(out, l.Say("Or the driver ended rows early: lifted %.1f m before the place where the rows beside them begin, at any speed. Then what is missed as described holds.", 2*m))
	default:
		out = append(out, l.Say("Or the driver began rows late: lowered %.1f m behind the place where the rows beside them end, at any speed. Then what is missed as described holds.", 2*m))
	}
	if g.Late > 0 {
		out = append(out, l.Say("In one direction rows are lowered %.1f m later than in another, or lifted earlier.", g.Late))
	}
	return out
}

// provided says in the sentence of how much was missed on what that stands which no log can tell, and what is missed otherwise, where the log tells a
// figure, and not in itself a range of all that its receiver may be: row ends by rule before the figure, of which little is sure without them, the
// place of the bar behind it. What is said so is left out of open.
func (a answer) provided(how string, open coverage.Open) (string, coverage.Open) {
	firm, otherwise := a.Telling.Strips == coverage.GraspFirm, ""
	var given string
	if e := open.Ends; e.Rows > 0 {
		given = a.Word("If row ends lie where rules put them: ")
		if firm {
			otherwise = a.Say("; with rows %.0f m shorter at all %d ends it would be %s, as much longer %s: no work state is logged, so look at them.", e.By, e.Rows, a.area(e.Later), a.area(e.Early))
			open.Ends = coverage.Ends{}
		}
	} else if s := open.Aside; s.By != 0 && !s.Joins {
		if firm {
			say := " if the bar runs as assumed, which no log tells (%.0f cm farther right, %s: measure three joins with a tape)"
			if s.By < 0 {
				say = " if the bar runs as assumed, which no log tells (%.0f cm farther left, %s: measure three joins with a tape)"
			}
			how = strings.TrimSuffix(how, ".") + a.Say(say, 100*math.Abs(s.By), a.area(s.Missed)) + "."
			open.Aside = coverage.Aside{}
		}
	}
	if u := a.Balance.Unknown; u >= 0.5 {
		how = strings.TrimSuffix(how, ".") + a.Say("; another %s are unknown (holes in the log).", a.area(u))
	}
	if given == "" {
		return how, open
	}
	if a.Language != words.German { // goes on in English with a small letter
		how = after(how)
	}
	if otherwise != "" {
		how = strings.TrimSuffix(how, ".") + otherwise
	}
	return given + how, open
}

// towards is the bearing of a shift, degrees clockwise from north.
func towards(east, north float64) float64 {
	return math.Mod(450-math.Atan2(north, east)*180/math.Pi, 360)
}

// seconds are a number as the set's file takes it, in any language.
func seconds(s float64) string { return fmt.Sprintf("%.1f", s) }
