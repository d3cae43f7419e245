package read

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"time"
)

// walSuffix names the file beside a GeoPackage that holds what is not in it yet.
const walSuffix = "-wal"

// pendingBeside says whether something waits beside a GeoPackage to be written into it.
func pendingBeside(path string) bool {
	wal, err := os.Stat(path + walSuffix)
	return err == nil && wal.Size() > 0
}

// withPending is the content of a GeoPackage with what waits beside it, as whoever has it open sees it. SQLite would make a further
// file beside both for that, and could not in a folder that nobody may write to. It is read again where somebody wrote
// meanwhile.
func withPending(path string) ([]byte, error) {
	for range 5 {
		before := stamps(path)
		wal, err := readHeld(path + walSuffix)
		switch {
		case errors.Is(err, fs.ErrNotExist): // it has just been written into the file
		case err != nil:
			return nil, &FileError{File: path + walSuffix, What: "it holds what is not in the GeoPackage yet, and cannot be read", Err: err, Hint: "close the program that has the GeoPackage open"}
		}
		data, err := readHeld(path)
		if err != nil {
			return nil, err
		}
		if stamps(path) == before {
			return withLog(data, wal), nil
		}
	}
	return nil, &FileError{File: path, What: "it is being written to", Hint: "close the program that has it open"}
}

// stamp tells one state of a file from the next.
type stamp struct {
	size int64
	at   time.Time
}

// stamps are those of a GeoPackage and of what waits beside it.
func stamps(path string) (s [2]stamp) {
	for i, name := range []string{path, path + walSuffix} {
		if info, err := os.Stat(name); err == nil {
			s[i] = stamp{info.Size(), info.ModTime()}
		}
	}
	return s
}

// readHeld reads a file of up to maxHeld bytes, which Files.source has opened and kept before.
func readHeld(path string) ([]byte, error) {
	f, err := (*Files)(nil).open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxHeld+1))
	if err == nil && len(data) > maxHeld {
		err = &FileError{File: path, What: fmt.Sprintf("over %d bytes, the limit for a GeoPackage that somebody has open", maxHeld), Hint: "close the program that has it open"}
	}
	return data, err
}

// Sizes in a write-ahead log.
const walHead, walFrame = 32, 24 // bytes

// withLog is a database with the pages of its write-ahead log, up to the last that ends a transaction; of a log that
// is not whole or of an earlier time nothing counts from the first wrong frame on. Source: "Database File Format", section 4 (The
// Write-Ahead Log), sqlite.org/fileformat2.html.
func withLog(data, wal []byte) []byte {
	if len(wal) < walHead {
		return data
	}
	word := binary.BigEndian.Uint32
	sum := walSum{order: binary.LittleEndian}
	switch word(wal) {
	case 0x377f0682:
	case 0x377f0683:
		sum.order = binary.BigEndian
	default:
		return data
	}
	size := int(word(wal[8:]))
	sum.add(wal[:24])
	if !sum.is(wal[24:]) || size < 512 || size > 1<<16 || size&(size-1) != 0 {
		return data
	}
	salt := string(wal[16:24])
	pages := map[uint32][]byte{} // of the transaction under way
	for rest := wal[walHead:]; len(rest) >= walFrame+size; rest = rest[walFrame+size:] {
		head, page := rest[:walFrame], rest[walFrame:walFrame+size]
		sum.add(head[:8])
		sum.add(page)
		if string(head[8:16]) != salt || !sum.is(head[16:]) || word(head) == 0 {
			break
		}
		pages[word(head)] = page
		whole := int64(word(head[4:])) * int64(size) // of the database after it; 0: the transaction goes on
		if whole == 0 {
			continue
		}
		if whole > int64(2*(len(data)+len(wal))) { // more pages than anybody wrote
			break
		}
		if grown := int(whole) - len(data); grown > 0 {
			data = append(data, make([]byte, grown)...)
		}
		data = data[:whole]
		for n, page := range pages {
			if at := int64(n-1) * int64(size); at < whole {
				copy(data[at:], page)
			}
		}
		clear(pages)
	}
	return data
}

// walSum is the running checksum of a write-ahead log.
type walSum struct {
	a, b  uint32
	order binary.ByteOrder
}

func (s *walSum) add(p []byte) {
	for ; len(p) >= 8; p = p[8:] {
		s.a += s.order.Uint32(p) + s.b
		s.b += s.order.Uint32(p[4:]) + s.a
	}
}

func (s *walSum) is(p []byte) bool {
	return s.a == binary.BigEndian.Uint32(p) && s.b == binary.BigEndian.Uint32(p[4:])
}
