package coverage

import (
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/testdata/trial"
)

func checked(t *testing.T, s trial.Sketch, w drive.Work) Result {
	t.Helper()
	r, err := Check(t.Context(), s.Field(), []geo.Track{s.Track()}, w)
	if err != nil {
		t.Fatal(err)
	}
	return r
}
