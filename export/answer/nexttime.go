package answer

import (
	"balk/coverage"
	"balk/export/words"
)

// NextTime says what another overlap would change between passes; "" where it is not worth saying.
func NextTime(s coverage.Spacing, l words.Language) string {
	now, then, ok := s.Better()
	if !ok {
		return ""
	}
	return l.Say("Next time: with %.2f m overlap instead of %.2f m, and driven as unevenly, %.1f %% instead of %.1f %% would be missed between passes, %.1f %% instead of %.1f %% worked twice, with %.1f %% more way. More overlap cures only what joins spread by.",
		then.Overlap, now.Overlap, 100*then.Missed, 100*now.Missed, 100*then.Double, 100*now.Double, 100*(then.Way-1))
}
