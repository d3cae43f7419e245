// Package bucket is the source of logs in a store that speaks S3.
//
// In: s3://BUCKET/PREFIX, and the environment: AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY, AWS_SESSION_TOKEN; AWS_ENDPOINT_URL_S3 or
// AWS_ENDPOINT_URL, which is that of a store elsewhere, https://s3.amazonaws.com without it; AWS_REGION. Without keys the store is asked
// without a name. Out: logs by name, and each as a file for as long as it is read: it goes from the store to the disk as it comes, and is
// never whole in memory.
//
// Parts of a shapefile are one log, and so are files in the folder of a TASKDATA.XML. Names with a part that begins with a point are passed
// over, as in a folder.
//
// Not done here: nothing is written into a store.
package bucket

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"net/url"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"balk/cmd/internal/batch"
	"balk/geo"

	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"
)

// Scheme begins the names of such sources.
const Scheme = "s3://"

// source is what lies under a prefix.
type source struct {
	client         *minio.Client
	bucket, prefix string
}

// open makes the source of s3://BUCKET/PREFIX. Nothing is asked of the store yet.
func open(name string) (*source, error) {
	bucket, prefix, _ := strings.Cut(strings.TrimPrefix(name, Scheme), "/")
	if !strings.HasPrefix(name, Scheme) || bucket == "" {
		return nil, fmt.Errorf("%s: must be like s3://bucket/prefix", geo.Shown(name))
	}
	endpoint := "https://s3.amazonaws.com"
	for _, variable := range []string{"AWS_ENDPOINT_URL", "AWS_ENDPOINT_URL_S3"} {
		if v := os.Getenv(variable); v != "" {
			endpoint = v
		}
	}
	at, err := url.Parse(endpoint)
	if err != nil || at.Host == "" || at.Scheme != "http" && at.Scheme != "https" {
		return nil, fmt.Errorf("AWS_ENDPOINT_URL %s: must be like https://host:port", geo.Shown(endpoint))
	}
	client, err := minio.New(at.Host, &minio.Options{Secure: at.Scheme == "https", Region: os.Getenv("AWS_REGION"),
		Creds: credentials.NewChainCredentials([]credentials.Provider{&credentials.EnvAWS{}})})
	if err != nil {
		return nil, err
	}
	return &source{client, bucket, prefix}, nil
}

// parts are the extensions of files that belong to a .shp.
var parts = []string{".dbf", ".shx", ".prj", ".cpg", ".sbn", ".sbx", ".qix", ".qpj"}

// taskData is the file that makes a folder one log (ISO 11783-10).
const taskData = "taskdata.xml"

// Logs are those under s3://BUCKET/PREFIX, in the order of their keys, with the whole of their place as path.
func Logs(ctx context.Context, name string) iter.Seq2[batch.Log, error] {
	return func(yield func(batch.Log, error) bool) {
		s, err := open(name)
		if err != nil {
			yield(batch.Log{}, err)
			return
		}
		// Other names may stand between the parts of a log: all keys are needed before the first log is known.
		var keys []string
		shapes, folders := map[string]bool{}, map[string]bool{}
		ctx, cancel := context.WithCancel(ctx)
		defer cancel()
		for o := range s.client.ListObjects(ctx, s.bucket, minio.ListObjectsOptions{Prefix: s.prefix, Recursive: true}) {
			if o.Err != nil {
				yield(batch.Log{}, s.said(s.prefix, o.Err))
				return
			}
			if strings.HasSuffix(o.Key, "/") || strings.Contains("/"+strings.TrimPrefix(o.Key[len(s.prefix):], "/"), "/.") || strings.Contains(o.Key, "__MACOSX/") {
				continue
			}
			keys = append(keys, o.Key)
			if strings.EqualFold(path.Ext(o.Key), ".shp") {
				shapes[stem(o.Key)] = true
			}
			if strings.EqualFold(path.Base(o.Key), taskData) {
				folders[path.Dir(o.Key)] = true
			}
		}
		slices.Sort(keys)
		for _, key := range keys {
			if slices.Contains(parts, strings.ToLower(path.Ext(key))) && shapes[stem(key)] || folders[path.Dir(key)] && !strings.EqualFold(path.Base(key), taskData) {
				continue
			}
			if !yield(batch.Log{Name: strings.TrimPrefix(strings.TrimPrefix(key, s.prefix), "/"), Path: s.place(key)}, nil) {
				return
			}
		}
	}
}

// stem is a key without extension.
func stem(key string) string { return strings.TrimSuffix(key, path.Ext(key)) }

// Fetch brings a log into a folder of its own, which done removes.
func Fetch(ctx context.Context, l batch.Log) (file string, done func(), err error) {
	s, err := open(l.Path)
	if err != nil {
		return "", func() {}, err
	}
	log := s.prefix // all of it is a key
	dir, err := os.MkdirTemp("", "log-")
	if err != nil { // of this machine, not of the log: no error that says that something of the store is not there or not allowed
		return "", func() {}, fmt.Errorf("no room for logs: %v", err)
	}
	done = func() { _ = os.RemoveAll(dir) } // in a folder for what may go at any time
	keys := []string{log}
	under := "" // the prefix of whatever belongs to it
	switch {
	case strings.EqualFold(path.Ext(log), ".shp"):
		under = strings.TrimSuffix(log, path.Ext(log)) + "."
	case strings.EqualFold(path.Base(log), taskData):
		under = strings.TrimSuffix(log, path.Base(log))
	}
	if under != "" {
		asking, cancel := context.WithCancel(ctx)
		defer cancel()
		for o := range s.client.ListObjects(asking, s.bucket, minio.ListObjectsOptions{Prefix: under}) {
			if o.Err != nil {
				return "", done, s.said(under, o.Err)
			}
			if o.Key != log && !strings.HasSuffix(o.Key, "/") {
				keys = append(keys, o.Key)
			}
		}
	}
	for _, key := range keys {
		to := filepath.Join(dir, path.Base(key)) // the store's names have no way out of the folder: Base has no slash
		if path.Base(key) == ".." || strings.ContainsRune(path.Base(key), filepath.Separator) {
			return "", done, fmt.Errorf("%s: no name for a file", s.shown(key))
		}
		if err := s.client.FGetObject(ctx, s.bucket, key, to, minio.GetObjectOptions{}); err != nil {
			return "", done, s.said(key, err)
		}
	}
	return filepath.Join(dir, path.Base(log)), done, nil
}

// place names a key from anywhere.
func (s *source) place(key string) string { return Scheme + s.bucket + "/" + key }

func (s *source) shown(key string) string { return geo.Shown(s.place(key)) }

// said is a fault of the store, with what was asked. That a thing is not there, or not for us, is told as of a file.
func (s *source) said(key string, err error) error {
	if r, is := errors.AsType[minio.ErrorResponse](err); is {
		switch r.Code {
		case "NoSuchKey", "NoSuchBucket", "NotFound":
			return &fs.PathError{Op: "get", Path: s.shown(key), Err: fs.ErrNotExist}
		case "AccessDenied":
			return &fs.PathError{Op: "get", Path: s.shown(key), Err: fs.ErrPermission}
		}
	}
	return fmt.Errorf("%s: %w", s.shown(key), err)
}
