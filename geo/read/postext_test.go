package read

import (
	"bytes"
	"strings"
	"testing"

	"balk/geo"
)

// Positions computed after the work, invented, in the layouts from memory: 17:30:33 of GPS time is 17:30:15 UTC in 2024.
func TestComputedPositions(t *testing.T) {
	const head = "%% program   : invented\n%% inp file  : rover.obs\n%%\n"
	for _, c := range []struct{ name, text, want string }{
		{"days and times of GPS", "%  GPST                  latitude(deg) longitude(deg)  height(m)   Q  ns   sdn(m)   sde(m)\n2024/05/31 17:30:33.000   48.100000000   11.500000000   510.0000   1  12   0.0080   0.0070\n2024/05/31 17:30:33.200   48.100001000   11.500000000   510.0000   2  12   0.0080   0.0070\n", "11.5,48.1@1717176615 11.5,48.100001@1717176615;"},
		{"weeks of GPS", "%  GPST          latitude(deg) longitude(deg)  height(m)   Q  ns\n2316 495033.000   48.100000000   11.500000000   510.0000   5  12\n", "11.5,48.1@1717176615;"},
		{"UTC", "%  UTC                  latitude(deg) longitude(deg)  height(m)   Q  ns\r\n2024/05/31 17:30:15.000   48.100000000   11.500000000   510.0000   5  12\r\n", "11.5,48.1@1717176615;"},
		{"JST, commas", "%  JST,latitude(deg),longitude(deg),height(m),Q,ns\n2024/06/01 02:30:15.000,48.100000000,11.500000000,510.0000,5,12\n", "11.5,48.1@1717176615;"},
		{"degrees, minutes, seconds", "%  UTC    latitude(d'\") longitude(d'\")  height(m)   Q  ns\n2024/05/31 17:30:15.000   48 06 00.00000   -11 30 00.00000   510.0000   5  12\n", "-11.5,48.1@1717176615;"},
		{"a year with 16 leap seconds", "%  GPST   latitude(deg) longitude(deg)  height(m)   Q  ns\n2014/01/01 00:00:16.000   48.1   11.5   510.0000   5  12\n", "11.5,48.1@1388534400;"},
		{"metres", "%  GPST   x-ecef(m)   y-ecef(m)   z-ecef(m)   Q  ns\n2024/05/31 17:30:33.000   4177000.0   855000.0   4727000.0   1  12\n", "metres (x-ecef)"},
		{"a time that is none", "%  UTC   latitude(deg) longitude(deg)  height(m)   Q  ns\n2024/13/31 17:30:15.000   48.1   11.5   510.0000   5  12\n", "11.5,48.1;"},
	} {
		if got := fromInput([]byte(strings.ReplaceAll(head, "%%", "%") + c.text)); !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	tracks, findings, err := PosTracks(strings.NewReader("%  UTC   latitude(deg) longitude(deg)  height(m)   Q  ns\n2024/05/31 17:30:15 48.1 11.5 510 1 9\n2024/05/31 17:30:16 x 11.5 510 2 9\n2024/05/31 17:30:17 48.1 11.5 510 6 9\n2024/05/31 17:30:18 48.1"), "a.pos", TrackOptions{})
	if err != nil || len(tracks) != 1 || len(findings) != 2 || findings[0].Record != 3 || findings[1].Record != 5 {
		t.Fatalf("%v, %v, %v", tracks, findings, err)
	}
	if q := tracks[0].Quality; len(q) != 2 || q[0] != geo.QualityFixed || q[1] != geo.QualityDifferential {
		t.Errorf("%v", q)
	}
}

func FuzzPos(f *testing.F) {
	f.Add([]byte("%  GPST   latitude(deg) longitude(deg)  height(m)   Q  ns\n2024/05/31 17:30:33.000   48.1   11.5   510.0   1  12\n"))
	f.Add([]byte("%  JST   latitude(d'\") longitude(d'\")  height(m)   Q  ns\n2316 495033.000   48 6 1 11 5 2 510.0   1  12\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		tracks, findings, err := PosTracks(bytes.NewReader(b), "fuzz", TrackOptions{})
		if what := sound(tracks, findings, err); what != "" {
			t.Fatal(what)
		}
	})
}
