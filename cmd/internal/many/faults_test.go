package many

import (
	"errors"
	"testing"
)

// A store that cannot be reached fails every log of a bundle: that is said once.
func TestFaultsOfABundleAreToldOnce(t *testing.T) {
	first := errors.New("s3://season/a.zip: no such host")
	var f faults
	f.add(first)
	if err := f.err(); err != first {
		t.Errorf("one fault is told as %v", err)
	}
	for range 99 {
		f.add(errors.New("s3://season/b.zip: no such host"))
	}
	if err := f.err(); !errors.Is(err, first) || err.Error() != "s3://season/a.zip: no such host; it is not the only one: 100 failed" {
		t.Errorf("a hundred are told as %v", err)
	}
}
