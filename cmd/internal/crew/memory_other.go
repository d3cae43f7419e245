//go:build !linux

package crew

import "errors"

// limitMemory is that of Linux only.
func limitMemory(uint64) error {
	return errors.New("there is none on this system: --memory 0, or Linux")
}
