package words

import (
	"fmt"
	"math"
	"time"

	"balk/coverage"
	"balk/coverage/drive"
)

// First are the sentences that stand before all figures: what the log says otherwise than the set's description, and what
// is missed either way. missed is in m², as described.
func (l Language) First(o coverage.Open, missed float64) []string {
	var out []string
	if a := o.Aside; a.Joins {
		say := "The joins say otherwise than the set's description: right and left sides meet as if the bar ran %.2f m to the right of where it was taken (± %.2f m, 99 %%). Missed are %s ha if it runs where it was taken, %s ha if where the joins say. Three joins measured with a tape decide."
		if a.By < 0 {
			say = "The joins say otherwise than the set's description: right and left sides meet as if the bar ran %.2f m to the left of where it was taken (± %.2f m, 99 %%). Missed are %s ha if it runs where it was taken, %s ha if where the joins say. Three joins measured with a tape decide."
		}
		out = append(out, l.Say(say, math.Abs(a.By), a.Doubt, l.hectares(missed), l.hectares(a.Missed)))
	}
	if g := o.Lag; g.Ends > 0 {
		say := "Row ends say otherwise than the set's description: in every direction rows begin %.1f ± %.1f m farther out than the rows beside them end. So the bar follows the logged state by %.1f s, or it lies %.1f m nearer to the antenna than described; %s. Missed are %s ha as described, %s ha by the first, %s ha by the second. Nothing of it is applied: the set's file takes lowerDelay = %s and liftDelay = %s, or a shorter hitch."
		if g.Metres < 0 {
			say = "Row ends say otherwise than the set's description: in every direction rows begin %.1f ± %.1f m farther in than the rows beside them end. So the logged state follows the bar by %.1f s, or the bar lies %.1f m farther from the antenna than described; %s. Missed are %s ha as described, %s ha by the first, %s ha by the second. Nothing of it is applied: the set's file takes lowerDelay = %s and liftDelay = %s, or a longer hitch."
		}
		favours := l.Word("passes at other speeds do not tell which")
		switch g.Favours {
		case drive.LagSeconds:
			favours = l.Say("passes at other speeds favour the first (%.1f ± %.1f s)", math.Abs(g.Seconds), g.Within)
		case drive.LagMetres:
			favours = l.Say("passes at other speeds favour the second (%.1f ± %.1f s)", math.Abs(g.Seconds), g.Within)
		}
		m := math.Abs(g.Metres)
		out = append(out, l.Say(say, 2*m, 2*g.Doubt, m/g.Speed, m, favours, l.hectares(missed), l.hectares(g.BySeconds), l.hectares(g.ByMetres), seconds(g.Lower), seconds(g.Lift)))
		if g.Late > 0 {
			out = append(out, l.Say("In one direction rows are lowered %.1f m later than in another, or lifted earlier.", g.Late))
		}
	}
	return out
}

// Holds are the sentences below the range of missed ground: on what it stands.
func (l Language) Holds(o coverage.Open) []string {
	var out []string
	if a := o.Aside; a.By != 0 && !a.Joins {
		say := "This holds if the bar runs where it was taken, which a log cannot tell: %.0f cm to the right would make it %s ha missed. Three joins measured with a tape decide."
		if a.By < 0 {
			say = "This holds if the bar runs where it was taken, which a log cannot tell: %.0f cm to the left would make it %s ha missed. Three joins measured with a tape decide."
		}
		out = append(out, l.Say(say, 100*math.Abs(a.By), l.hectares(a.Missed)))
	}
	if f := o.Frame; f.Told || f.Most {
		say := "If the log is in the satellites' frame and the boundary in that of maps (%s), or the other way about, all of the log lies %.2f m off towards %.0f° (%s): then %s ha are missed, and no join changes (--frame says it)."
		if f.Told {
			say = "The boundary is in the frame of maps, %s; a log in that of the satellites lies off it by %.2f m towards %.0f° (%s): then %s ha are missed, and no join changes (--frame says it)."
		}
		out = append(out, l.Say(say, f.Map, math.Hypot(f.East, f.North), math.Mod(450-math.Atan2(f.North, f.East)*180/math.Pi, 360), f.Day.Format(time.DateOnly), l.hectares(f.Missed)))
	}
	if e := o.Ends; e.Rows > 0 {
		out = append(out, l.Say("No work state is logged: rules tell the %d ends of rows, and how late a tool was lowered leaves no mark in this log. Were all of them %.0f m shorter, %s ha would be missed, were they as much longer, %s ha. Look at the row ends.", e.Rows, e.By, l.hectares(e.Later), l.hectares(e.Early)))
	}
	return out
}

// seconds are a number as the set's file takes it, in any language.
func seconds(s float64) string { return fmt.Sprintf("%.1f", s) }

// hectares is an area in m² as hectares, to the square metre.
func (l Language) hectares(m2 float64) string { return l.Say("%.4f", m2/1e4) }
