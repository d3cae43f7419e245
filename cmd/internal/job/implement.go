package job

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"

	"balk/coverage"

	"github.com/pelletier/go-toml/v2"
)

// maxImplement is the largest implement file read; a longer one is something else.
const maxImplement = 1 << 20 // bytes

// Implement reads the description of a machine from a JSON or TOML file. Unknown
// names in it are refused: a misspelt length would be a silent zero.
func Implement(path string) (coverage.Implement, error) {
	f, err := os.Open(path)
	if err != nil {
		return coverage.Implement{}, fmt.Errorf("implement: %w", err)
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, maxImplement+1))
	if err != nil {
		return coverage.Implement{}, fmt.Errorf("implement %s: %w", path, err)
	}
	if len(text) > maxImplement {
		return coverage.Implement{}, fmt.Errorf("implement %s: over %d bytes: not the description of a machine", path, maxImplement)
	}
	im, err := decodeImplement(text)
	if err != nil {
		return coverage.Implement{}, fmt.Errorf("implement %s: %w", path, err)
	}
	return im, nil
}

// decodeImplement takes JSON where the text opens with a brace, else TOML. Both
// go through the same JSON names, so there is one list of them.
func decodeImplement(text []byte) (coverage.Implement, error) {
	text = bytes.TrimSpace(bytes.TrimPrefix(text, []byte("\xef\xbb\xbf")))
	if len(text) == 0 {
		return coverage.Implement{}, errors.New("the file is empty")
	}
	if text[0] != '{' {
		var table map[string]any
		if err := toml.Unmarshal(text, &table); err != nil {
			var at *toml.DecodeError
			if errors.As(err, &at) {
				row, column := at.Position()
				return coverage.Implement{}, fmt.Errorf("line %d, column %d: %w", row, column, err)
			}
			return coverage.Implement{}, err
		}
		var err error
		if text, err = json.Marshal(table); err != nil {
			return coverage.Implement{}, err
		}
	}
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	var im coverage.Implement
	if err := d.Decode(&im); err != nil {
		return coverage.Implement{}, err
	}
	if _, err := d.Token(); err != io.EOF {
		return coverage.Implement{}, errors.New("something follows the description")
	}
	return im, im.Validate()
}
