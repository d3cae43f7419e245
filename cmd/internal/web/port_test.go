package web_test

import (
	"net/url"
	"path/filepath"
	"testing"
)

// What a browser keeps of a page it keeps by the page's address: a folder has the same each time it is served, while nobody else listens there.
func TestSameAddressForAFolder(t *testing.T) {
	keep := filepath.Join(t.TempDir(), "kept")
	host := func(keep string) (string, func()) {
		address, stop := served(t, "--keep", keep)
		at, err := url.Parse(address)
		if err != nil {
			t.Fatal(err)
		}
		return at.Host, stop
	}
	first, stop := host(keep)
	beside, stopBeside := host(keep)
	if beside == first {
		t.Errorf("two servers at %s", first)
	}
	stop()
	stopBeside()
	again, stop := host(keep)
	stop()
	if again != first {
		t.Errorf("first %s, then %s", first, again)
	}
	one, _ := host(keep + "-1")
	other, _ := host(keep + "-2")
	if one == first && other == first { // one of 16,384 may be
		t.Errorf("three folders at %s", first)
	}
}
