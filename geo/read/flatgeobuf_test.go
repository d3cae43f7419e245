package read

import (
	"bytes"
	"compress/gzip"
	"encoding/base64"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
)

// Files as GDAL 3.6.2 writes them, of invented data, packed: polygons with a hole and with parts, points without an index, lines in UTM.
var flatgeobufs = map[string]string{
	"fields": "H4sIAAAAAAACA41UzYvTQBSf7LZd2V1KLT2tIiFoUQhrk/TzILS0IS32y6aLCyWHdjttA2mytFlE8LAiHjwIXkTQi6DePfoHCN69ePIkeNCbJ2/1TTNjNd0ufTDz5s37vY957yWDYW9zMOxxDzYQ4hGhPXQZBdAF" +
		"tKBdFIM9AhqEysjDRWAdwtqgGMJ52H5zCKwZxfMeL+evhR4+L+7E859uZ54UQA7B7cDEVn9K9GGIQGLuzj2HYX8Lfr5DkGfU3ylwTW1oxZbeEe5qOp9NCmKp0D6ogehMrD6vYaePXfOI1+9PXTzmpRyBqNVqpak3" +
		"KqWFVVrJZCUlI8q57L6cysiykkorYlWta+3yQb3S7ghj7E6wIEqGYYjNVqWmQhBtgrF9zzwaCWJCLNS1quph+3gIGrjcT0iZZEqRc3JKyuWSigLGRb2DLcs8njpmv2uJsiEWDivwgCHL1eq6pnvSx/z1ate9IYi2" +
		"M3FHYqNVUlsdyVg7jt+rYw+ZW8cGt7g7dalXeX2vpGhqU9cEManIacMgnSJ98wrp9YXoyf2P2WwGLMjmBtqFbOhkBLq6Raco7Kl2GIbY290xRmvMC0cRj3/e+XAluBqH/qMF7tLNr1dD3AKXpQ6THJpPHZk9MoEk" +
		"tyTN7eIcEYSlOyfuiGPDHptbLGgLrGLeMRSg38Ip9fHSq8smOW+T9eXN8a3t5fxXvYfh/TLDezxK37DIKOod/sb11+31HinIssziMLxfZvjAGXVLLNWtTsaZmw8DZBShX7g/x/fULnZO31b1keH9MsN79/H8r8+1" +
		"XuQf+du7Vx95kJ++sKOPzpD9eCazf12Q1vUPmfYdmUAFAAA=",
	"points": "H4sIAAAAAAACA61TS2vbQBBeOU5iWjcYEkoIPRhRSgubIO36mUttYiEbHNtYDjUYHZRoI4vKkmNvCLmVXgulh57bS/9Ar/1B/Q05FNxZPWITCjWlA7OvmflmdufbS+d849I5l36lEHqOEjmAdQZl0eb9SQ7toy20" +
		"BxYQCaEhTAroHugYdAMtRUR9BrwxaAV0H/QOYtL3Hi9q0dysPfv+9GtqZb8F4zRwfT4X+x3AT4eViAp2YPwGOD9zCH2K8d7BrGtd/aRvjOQ3upGvFGTcqA/OTmEbzDw7r7PAZty9yBu3c84mebUqXLR2u9Uzuq3G" +
		"MqpEyxWVljGpVo5IsUwILZYobmsdfdA867QGI3nC+IzJWDVNE/f6rVMNkugzxvwb92IsYwXXO3pbi3xt5oAFDo8UtVwoUlIlRbVaLVAKwSfGiHmeO50Hrm15mJi4PmzBBZykVs/iLr+2Wf5l2+KvZOwHMz7G3X5D" +
		"649Uc+08D1ED30lgAx9gmTXnMSpZH1U8mtYzdBkXKCmZpuiU6Fv0kFFfhF2cv18sFjA9zsSdFzY/4Eysv0S2zcS2DXp1bXkuv0U/IlsqE9EttN0Es7eu7wATcsCJ7TgqC7tQHmVW+DefMmYDY5ae2ZA/IE9Wa+Hu" +
		"JKyFhx4o5JpgnPBpxj409N4FJQopHCrFQ6oO1PIxVY5VRYrB7l6nxC9IhzHi0IpR0vEIl/kD//81r5rkTddSSPp73o/DD13pP+QlSd5sba37PvzfvwF04q2lcAQAAA==",
	"line": "H4sIAAAAAAACA51WzY/bRBT3ftDlsCwLohdOI7cHiqbBH5sv9uR43TQosYOdhUVhQbPOJHEbj8PY6RL+AFSJnuGCEHcuKxDigoRASNygNxAnbnDixAG1l75xvG2yJLSbkSbOvHm/3/vNzBs/d3tHa93e0cqPG5KE" +
		"JNFehOe69LT0qG1KL8DvNsxIUl2a+AnLAfTVKb8V6B3gWYfnYOPDwre/XDJOfqv++XGtZfz67Pt/v333kvHRe//+8zOMhX/qFzAqSVvAJ2JupnG2xBzw/NWRpD8uTPzuwrPpOq+ZrteWrZbrlcroFbTfaqAPIkaR" +
		"rtkyrhieVbWc6pSPjC3bsxqVugWWEY+GlDDUopzTOOEBGSCXdimnzKfIG8cJDZFaBmbKYhoeDaiMGwC23MeCr3ES0hQrH54XU1aWwKhLYLQlMPoSmJ0lMIUlMMXzYjRFUZbA5M+PUcUeWPV6rek5tb22XHU9kR2K" +
		"jAt6saTqRayVSzktX9Q0TVVUXLfsauv6vl1rteWQJhwyTz08fJi8hmnuu4b5VlvJCXPTrYEeYOWUsuPA78tYwYZdrVsThg7twQwYc4pa3MnrWlnLi3PRdQALOVbTq8p4R8uXwGA69huW69Ucuy3PXqiG1brugHuL" +
		"ExbfojymqEG5T5KIy1M8sK6iUGW4BiDELtVJEiSjDkVRFzGSjDhsUsSDXsCeXOlUgFJJUc8EiFhvYYTyUhG02QieTwYUdYkPi0Uk+e8ycmXIWuyZxmmkEQuSsTi3Wd78LO81MoBtpCROAtaTcV4Rbf75z/IU5vGw" +
		"iCf9lOiJOOCY4Ly9tkl4QuOAMKwdYuOgBu/Ll6wrMhaysOPuQQCALkjKzN8G/zR8BtAWAvY9o2q1PdNpircwHByjlINoFI/4LTrGKImGUY+TYT/wUUiGQ5jLwf0xXMs4vXHoiCbHkO2o8MOJhQjrIFWDf68iY5Re" +
		"wl1UoYNeMAp30R5lIeE30VUUsbgfcZq6R91uOthFVcpDwsYL5+2IH5MxCpg/GHWEzEWO3pAETMxmFqG5UnEO2nopVyzgAi7t5HQdq1ouTd9HJwH3Tod0EzXwIvS55SyrjwIg6uM2VMeNrBpvTcrtU6c1WtiPg07S" +
		"fzd8bN1dyTDv3DHvfz/H7/aNi/irrD5LU3V8+/dnxgJ/75vb/utTfJ9nfp+mlXvSRB0X1Vzou5yt40I6I36fT9ey+fCrYQMsk/U0M1+B++y5+9/9NEff1S80/xMYn+q/8/XLJ1/C+HJn7cqbZ/SvZl1wdtKd+z9t" +
		"a6m2zSz+GW2r69Lsd82i/XgA89mPDVAJAAA=",
}

func flatgeobufOf(t testing.TB, name string) []byte {
	packed, err := base64.StdEncoding.DecodeString(flatgeobufs[name])
	if err != nil {
		t.Fatal(err)
	}
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	data, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func TestFlatGeobuf(t *testing.T) {
	fields, findings, err := Fields(StandardInput, Options{Files: &Files{Input: bytes.NewReader(flatgeobufOf(t, "fields"))}})
	if err != nil || len(fields) != 2 || len(findings) != 0 {
		t.Fatalf("%v, %v, %v", fields, findings, err)
	}
	for _, f := range fields {
		switch parts, rings := len(f.Boundary), len(f.Boundary[0]); {
		case f.Name == "North" && parts == 1 && rings == 2 && f.Boundary[0][1][0] == [2]float64{11.0005, 48.0005}:
		case f.Name == "South" && parts == 2 && rings == 1:
		default:
			t.Errorf("%q: %d parts, %d rings: %v", f.Name, parts, rings, f.Boundary)
		}
	}
	tracks, findings, err := FlatGeobufTracks(bytes.NewReader(flatgeobufOf(t, "points")), "a.fgb", TrackOptions{})
	if err != nil || len(tracks) != 1 || tracks[0].Fixes() != 3 || fmt.Sprint(tracks[0].Speed, tracks[0].State, tracks[0].Quality) != "[1.5 2.5 3.5] [1 2 1] [5 5 5]" || tracks[0].Line.FlatCoords()[5] != 1717176611 {
		t.Errorf("%v, %v, %v", tracks, findings, err)
	}
	tracks, findings, err = FlatGeobufTracks(bytes.NewReader(flatgeobufOf(t, "line")), "a.fgb", TrackOptions{})
	if err != nil || len(tracks) != 2 {
		t.Fatalf("%v, %v, %v", tracks, findings, err)
	}
	fixes, parts := 0, 0
	for _, k := range tracks {
		c := k.Line.FlatCoords()
		if math.Abs(c[0]-11) > 1e-9 && math.Abs(c[0]-11.001) > 1e-9 {
			t.Errorf("it begins at %v", c[:2])
		}
		fixes, parts = fixes+k.Fixes(), parts+len(k.Line.Ends())
	}
	if fixes != 6 || parts != 3 || !strings.Contains(fmt.Sprint(findings), "ETRS89") {
		t.Errorf("%d fixes in %d parts: %v", fixes, parts, findings)
	}
	// Cut off at any byte it gives what came before, or an error.
	whole := flatgeobufOf(t, "points")
	for n := range whole {
		tracks, findings, err := FlatGeobufTracks(bytes.NewReader(whole[:n]), "a.fgb", TrackOptions{})
		if what := sound(tracks, findings, err); what != "" {
			t.Errorf("cut at byte %d: %s", n, what)
		}
		if err == nil && tracks[0].Fixes() == 3 {
			t.Errorf("cut at byte %d it has all its fixes", n)
		}
	}
}

func FuzzFlatGeobuf(f *testing.F) {
	for name := range flatgeobufs {
		f.Add(flatgeobufOf(f, name))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		tracks, findings, err := FlatGeobufTracks(bytes.NewReader(data), "fuzz", TrackOptions{})
		if what := sound(tracks, findings, err); what != "" {
			t.Fatal(what)
		}
		fields, findings, err := FlatGeobufFields(bytes.NewReader(data), "fuzz", Options{})
		holdFields(t, fields, findings, err)
	})
}
