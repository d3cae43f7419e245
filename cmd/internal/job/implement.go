package job

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"

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
	begin := bytes.TrimSpace(text)
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
		return nil, fmt.Errorf("line %d, column %d: %w", row, column, err)
	}
	return table, err
}

// strict decodes one JSON value; names it does not know are refused.
func strict(text []byte, v any) error {
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		return err
	}
	if _, err := d.Token(); err != io.EOF {
		return errors.New("something follows the description")
	}
	return nil
}

// Mount sets dimensions by their names in an implement file, such as hitch=1.6 or
// trailed=true.
func Mount(m rig.Mount, set map[string]string) (rig.Mount, error) {
	if err := byName("mount", &m, set); err != nil {
		return rig.Mount{}, err
	}
	return m, nil
}

// byName sets members of v by their JSON names; names it does not know are refused.
func byName(what string, v any, set map[string]string) error {
	for _, name := range slices.Sorted(maps.Keys(set)) {
		key, err := json.Marshal(name)
		if err != nil {
			return err
		}
		if err := strict(fmt.Appendf(nil, "{%s:%s}", key, set[name]), v); err != nil {
			return fmt.Errorf("%s %s=%s: %w", what, name, set[name], err)
		}
	}
	return nil
}
