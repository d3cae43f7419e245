package answer

import (
	"fmt"
	"math"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/export/words"
)

// First are the sentences that stand before all figures: what the log says otherwise than the set's description, and what
// is missed either way. missed is in m², as described.
func First(l words.Language, o coverage.Open, missed float64) []string {
	var out []string
	if a := o.Aside; a.Joins {
		say := "The joins say otherwise than the set's description: right and left sides meet as if the bar ran %.2f m to the right of where it was taken (give or take %.0f cm). Missed are %s if it runs where it was taken, %s if where the joins say. Three joins measured with a tape decide."
		if a.By < 0 {
			say = "The joins say otherwise than the set's description: right and left sides meet as if the bar ran %.2f m to the left of where it was taken (give or take %.0f cm). Missed are %s if it runs where it was taken, %s if where the joins say. Three joins measured with a tape decide."
		}
		out = append(out, l.Say(say, math.Abs(a.By), 100*a.Doubt, Area(l, missed), Area(l, a.Missed)))
	}
	if g := o.Lag; g.Ends > 0 {
		say := "Row ends say otherwise than the set's description: in every direction rows begin %.1f m (give or take %.1f) farther out than the rows beside them end. So the bar follows the logged state by %.1f s, or it lies %.1f m nearer to the antenna than described; %s. Missed are %s as described, %s by the first, %s by the second. Nothing of it is applied: the set's file takes lowerDelay = %s and liftDelay = %s, or a shorter hitch."
		if g.Metres < 0 {
			say = "Row ends say otherwise than the set's description: in every direction rows begin %.1f m (give or take %.1f) farther in than the rows beside them end. So the logged state follows the bar by %.1f s, or the bar lies %.1f m farther from the antenna than described; %s. Missed are %s as described, %s by the first, %s by the second. Nothing of it is applied: the set's file takes lowerDelay = %s and liftDelay = %s, or a longer hitch."
		}
		favours := l.Word("passes at other speeds do not tell which")
		switch g.Favours {
		case drive.LagSeconds:
			favours = l.Say("passes at other speeds favour the first (%.1f s, give or take %.1f)", math.Abs(g.Seconds), g.Within)
		case drive.LagMetres:
			favours = l.Say("passes at other speeds favour the second (%.1f s, give or take %.1f)", math.Abs(g.Seconds), g.Within)
		}
		m := math.Abs(g.Metres)
		out = append(out, l.Say(say, 2*m, 2*g.Doubt, m/g.Speed, m, favours, Area(l, missed), Area(l, g.BySeconds), Area(l, g.ByMetres), seconds(g.Lower), seconds(g.Lift)))
		switch { // drivers' habits go by the place, delays by the speed
		case g.Favours == drive.LagSeconds:
		case g.Whose == drive.LagSet:
			out = append(out, l.Say("Measured outward from the headland's edge, rows begin at %.1f m and end at %.1f m. That lies to either side of where drivers work to, so it is the set, and no habit of the driver.", g.Begin, g.End))
		case g.Whose == drive.LagDriver && g.Metres > 0:
			out = append(out, l.Say("Measured outward from the headland's edge, rows begin at %.1f m and end at %.1f m. So it looks as if the driver ended rows early, and what is missed as described holds.", g.Begin, g.End))
		case g.Whose == drive.LagDriver:
			out = append(out, l.Say("Measured outward from the headland's edge, rows begin at %.1f m and end at %.1f m. So it looks as if the driver began rows late, and what is missed as described holds.", g.Begin, g.End))
		case g.Metres > 0:
			out = append(out, l.Say("Or the driver ended rows early: lifted %.1f m before the place where the rows beside them begin, at any speed. Then what is missed as described holds.", 2*m))
		default:
			out = append(out, l.Say("Or the driver began rows late: lowered %.1f m behind the place where the rows beside them end, at any speed. Then what is missed as described holds.", 2*m))
		}
		if g.Late > 0 {
			out = append(out, l.Say("In one direction rows are lowered %.1f m later than in another, or lifted earlier.", g.Late))
		}
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
		say := "Were the bar %.0f cm farther right, which no log can tell, it would be %s: measure three joins with a tape."
		if a.By < 0 {
			say = "Were the bar %.0f cm farther left, which no log can tell, it would be %s: measure three joins with a tape."
		}
		out = append(out, l.Say(say, 100*math.Abs(a.By), Area(l, a.Missed)))
	}
	if f := o.Frame; f.Told || f.Most {
		say := "Were log and boundary in different frames (%s: %.2f m towards %.0f°), it would be %s: --frame."
		if f.Told {
			say = "The boundary is in the frame of maps (%s); were the log in the satellites' (%.2f m towards %.0f°), it would be %s: --frame."
		}
		out = append(out, l.Say(say, f.Map, math.Hypot(f.East, f.North), towards(f.East, f.North), Area(l, f.Missed)))
	}
	if e := o.Ends; e.Rows > 0 {
		out = append(out, l.Say("No work state is logged: the %d row ends are by rule. Were all %.0f m shorter, %s would be missed, were they as much longer, %s: look at them.", e.Rows, e.By, Area(l, e.Later), Area(l, e.Early)))
	}
	return out
}

// towards is the bearing of a shift, degrees clockwise from north.
func towards(east, north float64) float64 {
	return math.Mod(450-math.Atan2(north, east)*180/math.Pi, 360)
}

// seconds are a number as the set's file takes it, in any language.
func seconds(s float64) string { return fmt.Sprintf("%.1f", s) }
