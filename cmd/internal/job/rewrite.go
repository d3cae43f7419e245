package job

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"balk/cmd/internal/folder"
)

// Rewrite writes other numbers into the file of an implement, each beside a remark with what stood there and until when. Names are as in
// the file, a group before its member with a point between: overlap, mount.barRight. All else in the file stays as it is. Errors: a file
// in which that cannot be done, such as JSON, which has no room for remarks, or values that no implement has; the file is then untouched.
func Rewrite(path string, values map[string]float64, now time.Time) error {
	info, err := os.Stat(path)
	if err != nil {
		return fmt.Errorf("implement: %w", err)
	}
	text, err := new(Call).description(path)
	if err != nil {
		return fmt.Errorf("implement: %w", err)
	}
	changed, err := rewritten(text, values, now)
	if err != nil {
		return fmt.Errorf("implement %s: %w", path, err)
	}
	return folder.Replace(path, changed, info.Mode().Perm())
}

var errByHand = errors.New("these values cannot be written into it alone: change it by hand")

func rewritten(text []byte, values map[string]float64, now time.Time) ([]byte, error) {
	was, err := tomlTable(bytes.TrimPrefix(text, []byte("\xef\xbb\xbf")))
	if begin := bytes.TrimSpace(text); err != nil || bytes.HasPrefix(begin, []byte("{")) {
		return nil, errByHand
	}
	lines := strings.SplitAfter(string(text), "\n")
	for _, name := range slices.Sorted(maps.Keys(values)) {
		lines = put(lines, name, values[name], now)
		group, member, grouped := strings.Cut(name, ".")
		if !grouped {
			was[name] = values[name]
			continue
		}
		of, ok := was[group].(map[string]any)
		if !ok {
			of = map[string]any{}
			was[group] = of
		}
		of[member] = values[name]
	}
	changed := []byte(strings.Join(lines, ""))
	// The lines were changed by their looks: what they mean must be what stood there, but for these values.
	is, err := tomlTable(bytes.TrimPrefix(changed, []byte("\xef\xbb\xbf")))
	if err != nil {
		return nil, errByHand
	}
	wanted, err := json.Marshal(was)
	if err != nil {
		return nil, err
	}
	if got, err := json.Marshal(is); err != nil || !bytes.Equal(got, wanted) {
		return nil, errors.Join(errByHand, err)
	}
	if _, err := decodeImplement(changed); err != nil {
		return nil, err
	}
	return changed, nil
}

var (
	groupLine = regexp.MustCompile(`^\s*\[\s*([A-Za-z]+)\s*\]\s*(?:#.*)?$`)
	anyGroup  = regexp.MustCompile(`^\s*\[`)
)

// put is the lines with another value of a name; a name that is not there comes to the end of its group.
func put(lines []string, name string, value float64, now time.Time) []string {
	group, member, grouped := strings.Cut(name, ".")
	if !grouped {
		group, member = "", name
	}
	line := regexp.MustCompile(`^(\s*` + regexp.QuoteMeta(member) + `\s*=\s*)([-+0-9._eE]+)[ \t]*(?:#[ \t]*(.*?))?[ \t]*(\r?\n)?$`)
	text, until := strconv.FormatFloat(value, 'f', -1, 64), now.Format(time.DateOnly)
	in, end := "", -1 // the group of a line, and the line behind the last one of the group wanted
	if group == "" {
		end = 0
	}
	for k, l := range lines {
		if v := groupLine.FindStringSubmatch(strings.TrimRight(l, "\r\n")); v != nil {
			in = v[1]
		} else if anyGroup.MatchString(l) {
			in = "\x00" // another's
		}
		if in != group {
			continue
		}
		if v := line.FindStringSubmatch(l); v != nil && !anyGroup.MatchString(l) {
			remark := fmt.Sprintf("%s until %s", v[2], until)
			if v[3] != "" {
				remark = v[3] + "; " + remark
			}
			lines[k] = v[1] + text + "   # " + remark + v[4]
			return lines
		}
		if strings.TrimSpace(l) != "" {
			end = k + 1
		}
	}
	fresh := fmt.Sprintf("%s = %s   # not given until %s\n", member, text, until)
	if end < 0 {
		end = len(lines)
		fresh = "\n[" + group + "]\n" + fresh
	}
	if end > 0 && !strings.HasSuffix(lines[end-1], "\n") {
		fresh = "\n" + fresh
	}
	return slices.Insert(lines, end, fresh)
}
