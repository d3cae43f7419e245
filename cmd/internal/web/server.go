package web

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"net"
	"net/http"
	"path/filepath"
	"strconv"
	"time"

	"balk/cmd/internal/job"
)

// Options say what is served, and to whom.
type Options struct {
	Address string   // host and port to listen on; port 0 = the one of the folder Keep, or any that is free
	Open    []string // arguments of balk check that are opened first; none = an empty page
	Keep    string   // folder for files that are put on the page; made when the first one comes

	// Spec is what arguments of balk check mean.
	Spec func(ctx context.Context, args []string) (job.Spec, error)
	// Verb carries out balk with arguments, and gives what it prints and what it remarks.
	Verb func(ctx context.Context, args []string) (printed, remarks string, err error)
	// Demo writes an invented farm into a folder.
	Demo  func(ctx context.Context, dir string) error
	Ready func(address string) // is called with the address to be opened, once it is served
	Say   func(string)         // hears of what went wrong beside the answers
}

// closing is how long requests may take to end once the server is to stop.
const closing = 3 * time.Second

// Serve serves the page until ctx ends, which is no error.
func Serve(ctx context.Context, o Options) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	shelf, err := newShelf(ctx, o)
	if err != nil {
		return err
	}
	listener, err := listen(ctx, o)
	if err != nil {
		return fmt.Errorf("cannot serve the page: %w", err)
	}
	token := rand.Text()
	server := &http.Server{
		Handler:           newGuard(listener.Addr(), token, o.Say, routes(shelf)),
		ReadHeaderTimeout: 10 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    1 << 16,
		BaseContext:       func(net.Listener) context.Context { return ctx },
	}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	o.Ready("http://" + listener.Addr().String() + "/?" + tokenName + "=" + token)
	select {
	case err := <-ended:
		return fmt.Errorf("the page is no longer served: %w", err)
	case <-ctx.Done():
	}
	late, cancel := context.WithTimeout(context.WithoutCancel(ctx), closing)
	defer cancel()
	if err := server.Shutdown(late); errors.Is(err, context.DeadlineExceeded) {
		_ = server.Close() // those that would not end
	}
	shelf.working.Wait()
	return nil
}

// firstPort and ports are those that nobody has by right (IANA's dynamic ports, RFC 6335, 6).
const firstPort, ports = 49152, 16384

// listen listens on the port asked for. Where any will do it is the same for a folder each time, if it is free: a browser keeps what was
// noted on a page under the address of the page.
func listen(ctx context.Context, o Options) (net.Listener, error) {
	host, port, err := net.SplitHostPort(o.Address)
	if err != nil {
		return nil, err
	}
	var l net.ListenConfig
	if port == "0" {
		dir, err := filepath.Abs(o.Keep)
		if err != nil {
			return nil, err
		}
		sum := sha256.Sum256([]byte(dir))
		usual := firstPort + int(binary.LittleEndian.Uint16(sum[:]))%ports
		if listener, err := l.Listen(ctx, "tcp", net.JoinHostPort(host, strconv.Itoa(usual))); err == nil {
			return listener, nil
		}
	}
	return l.Listen(ctx, "tcp", o.Address)
}

// Loopback says whether only this computer can reach a host.
func Loopback(host string) bool {
	if host == "localhost" {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}
