package job

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"balk/coverage/rig"

	"github.com/pelletier/go-toml/v2"
)

// maxDescription is the largest file read that describes something; a longer one is something else.
const maxDescription = 1 << 20 // bytes

// Implement reads the description of a machine from a JSON or TOML file. Unknown
// names in it are refused: a misspelt length would be a silent zero.
func (c *Call) Implement(path string) (rig.Implement, error) {
	text, err := c.description(path)
	if err != nil {
		return rig.Implement{}, fmt.Errorf("implement: %w", err)
	}
	im, err := decodeImplement(text)
	if err != nil {
		return rig.Implement{}, fmt.Errorf("implement %s: %w", path, err)
	}
	return im, nil
}

// description is the text of a file that describes something.
func (c *Call) description(path string) ([]byte, error) {
	f, err := c.ready().opened.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, maxDescription+1))
	if err == nil && len(text) > maxDescription {
		err = fmt.Errorf("over %d bytes: not the description of a machine or a farm", maxDescription)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return text, nil
}

// decodeImplement takes JSON where the text opens with a brace, else TOML. Both
// go through the same JSON names, so there is one list of them.
func decodeImplement(text []byte) (rig.Implement, error) {
	text = bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))
	whole, begin := text, bytes.TrimSpace(text)
	if len(begin) == 0 {
		return rig.Implement{}, errors.New("the file is empty")
	}
	if begin[0] != '{' {
		table, err := tomlTable(text)
		if err != nil {
			return rig.Implement{}, err
		}
		if text, err = json.Marshal(table); err != nil {
			return rig.Implement{}, err
		}
	}
	var im rig.Implement
	if err := strict(text, &im); err != nil {
		if w, ok := errors.AsType[*memberError](err); ok {
			if line := lineOf(whole, w.name); line > 0 {
				return rig.Implement{}, fmt.Errorf("line %d: %w", line, err)
			}
		}
		return rig.Implement{}, err
	}
	return im, im.Validate()
}

// tomlTable decodes TOML; an error says where it is.
func tomlTable(text []byte) (map[string]any, error) {
	var table map[string]any
	err := toml.Unmarshal(text, &table)
	if at, ok := errors.AsType[*toml.DecodeError](err); ok {
		row, column := at.Position()
		if strings.Contains(err.Error(), "already") { // that is how the library tells it
			return nil, fmt.Errorf("line %d, column %d: a name that stands there twice", row, column)
		}
		return nil, fmt.Errorf("line %d, column %d: cannot be read from here on: NAME = VALUE is wanted, texts in quotation marks, decimals after a point", row, column)
	}
	return table, err
}

// strict decodes one JSON value; names it does not know are refused.
func strict(text []byte, v any) error {
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		err = plainly(text, err)
		if e, ok := errors.AsType[*memberError](err); ok && e.what == unknownName {
			e.what += Meant(e.name, namesIn(reflect.TypeOf(v)))
		}
		return err
	}
	if _, err := d.Token(); err != io.EOF {
		return errors.New("something follows the description")
	}
	return nil
}

const unknownName = "no such name in a description" // and what may have been meant

// memberError is a fault of a member of a description.
type memberError struct{ name, what string }

func (e *memberError) Error() string { return e.name + ": " + e.what }

// plainly is what is wrong with a description, in words of our own.
func plainly(text []byte, err error) error {
	if errors.Is(err, io.ErrUnexpectedEOF) || strings.Contains(err.Error(), "unexpected end of JSON") {
		return errors.New("it breaks off before its end")
	}
	if e, ok := errors.AsType[*json.SyntaxError](err); ok {
		before := text[:min(max(e.Offset-1, 0), int64(len(text)))]
		return fmt.Errorf("line %d, column %d: no JSON from here on", 1+bytes.Count(before, []byte("\n")), len(before)-bytes.LastIndexByte(before, '\n'))
	}
	if e, ok := errors.AsType[*json.UnmarshalTypeError](err); ok {
		wanted := map[reflect.Kind]string{reflect.Float64: "a number", reflect.Int: "a whole number", reflect.Bool: "true or false", reflect.String: "a text", reflect.Slice: "a list", reflect.Struct: "a group of its own", reflect.Map: "a group of its own"}
		found := strings.NewReplacer("string", "a text", "bool", "true or false", "array", "a list", "object", "a group", "number", "a number").Replace(e.Value)
		return &memberError{e.Field, fmt.Sprintf("%s is wanted, not %s", cmp.Or(wanted[e.Type.Kind()], "another kind of value"), found)}
	}
	if name, ok := strings.CutPrefix(err.Error(), "json: unknown field "); ok {
		return &memberError{strings.Trim(name, `"`), unknownName}
	}
	return err
}

// lineOf is the line that names a member, from 1; 0 = none does.
func lineOf(text []byte, member string) int {
	name := regexp.QuoteMeta(member[strings.LastIndexByte(member, '.')+1:])
	at := regexp.MustCompile(`(?m)(?:^[ \t]*\[?|[{,.]\s*)"?(` + name + `)"?[ \t]*[\]=:]`).FindSubmatchIndex(text)
	if at == nil {
		return 0
	}
	return 1 + bytes.Count(text[:at[2]], []byte("\n"))
}

// Mount sets dimensions by their names in an implement file, such as hitch=1.6 or
// trailed=true.
func Mount(m rig.Mount, set map[string]string) (rig.Mount, error) {
	if err := byName("mount", &m, set, func(name string) string {
		if name == "maxAngle" {
			return "°"
		}
		return "m"
	}); err != nil {
		return rig.Mount{}, err
	}
	return m, nil
}

// byName sets members of v by their JSON names; names it does not know are refused. unit is that of a member which is a number.
func byName(what string, v any, set map[string]string, unit func(name string) string) error {
	for _, name := range slices.Sorted(maps.Keys(set)) {
		key, err := json.Marshal(name)
		if err != nil {
			return err
		}
		value := []byte(set[name])
		switch said := strings.TrimLeft(set[name], " +-.,"); {
		case said != "" && said[0] >= '0' && said[0] <= '9':
			n, err := Number(set[name], unit(name))
			if err != nil {
				return fmt.Errorf("%s %s=%s: %w", what, name, set[name], err)
			}
			value = strconv.AppendFloat(nil, n, 'g', -1, 64)
		case said != "true" && said != "false":
			if value, err = json.Marshal(set[name]); err != nil { // which says what is wanted instead
				return err
			}
		}
		if err := strict(fmt.Appendf(nil, "{%s:%s}", key, value), v); err != nil {
			return fmt.Errorf("%s %s=%s: %w", what, name, set[name], err)
		}
	}
	return nil
}
