package web_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"balk/cmd/internal/cli"
	"balk/testdata/check"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
)

// served is balk serve with these arguments, and the address it printed; stop ends it.
func served(t *testing.T, args ...string) (address string, stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	out, in := io.Pipe()
	remarks := &bytes.Buffer{}
	ended := make(chan int, 1)
	go func() {
		ended <- cli.Run(ctx, append([]string{"serve", "--no-open"}, args...), strings.NewReader(""), in, remarks)
		in.Close()
	}()
	stop = sync.OnceFunc(func() {
		cancel()
		if code := <-ended; code != 0 {
			t.Errorf("balk serve %q ends with %d: %s", args, code, remarks)
		}
	})
	address, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		cancel()
		t.Fatalf("balk serve %q: %v: %s", args, err, remarks)
	}
	go io.Copy(io.Discard, out)
	t.Cleanup(stop)
	return strings.TrimSpace(address), stop
}

// farm is the invented one, written anew.
func farm(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "farm")
	if said, code := balk(t, "demo", dir); code != 0 {
		t.Fatal(said)
	}
	return dir
}

// balk is the command.
func balk(t *testing.T, args ...string) (stdout string, code int) {
	t.Helper()
	var out, remarks bytes.Buffer
	code = cli.Run(t.Context(), args, strings.NewReader(""), &out, &remarks)
	if code != 0 {
		return remarks.String(), code
	}
	return out.String(), code
}

// pond are the arguments of a check of the first field.
func pond(dir string) []string {
	return []string{filepath.Join(dir, "fields.geojson"), filepath.Join(dir, "track-pond.geojson"), "--implement", filepath.Join(dir, "sweep-mounted.toml"), "--rounds", "3"}
}

// tab is one page in a real browser.
type tab struct {
	*testing.T
	ctx   context.Context
	hosts sync.Map // that were asked for anything
	odd   struct {
		sync.Mutex
		list []string // what the page wrote on its console
	}
	refused bool // a request of the test's is refused, which the browser notes there
}

// browser is Debian's Chromium, without a window; a test without it is skipped, and says so.
func browser(t *testing.T) context.Context {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		check.Skip(t, "no chromium (Debian package) to look at the page with")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.WSURLReadTimeout(time.Minute), chromedp.Flag("lang", "en"), chromedp.Flag("process-per-site", true)) // all pages in one process: twenty of them want twenty processors else
	ctx, cancel := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	return ctx
}

// open opens an address in a tab of this size, light or dark.
func open(t *testing.T, browser context.Context, address string, width, height int64, scheme string) *tab {
	t.Helper()
	ctx, cancel := chromedp.NewContext(browser)
	t.Cleanup(cancel)
	p := &tab{T: t, ctx: ctx}
	messages := chromedp.Console(ctx)
	go func() {
		for m, err := range messages {
			if err != nil {
				return
			}
			p.odd.Lock()
			p.odd.list = append(p.odd.list, m.String())
			p.odd.Unlock()
		}
	}()
	if err := chromedp.Listen(ctx, func(ev any) {
		if e, ok := ev.(*network.EventRequestWillBeSent); ok {
			if at, err := url.Parse(e.Request.URL); err == nil && (at.Host != "" || at.Scheme == "file") {
				p.hosts.Store(at.Host, true)
			}
		}
	}); err != nil {
		t.Fatal(err)
	}
	p.do(chromedp.EmulateViewport(width, height))
	p.do(func(ctx context.Context, t *chromedp.Target) (v chromedp.Void, err error) {
		_, err = chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
		if err == nil { // where the invented farm lies; it logs in UTC
			_, err = chromedp.Call(ctx, emulation.SetTimezoneOverride, emulation.SetTimezoneOverrideParams{TimezoneID: "Europe/Berlin"})
		}
		return v, err
	})
	p.do(chromedp.Navigate(address))
	t.Cleanup(func() { p.clean(address) })
	return p
}

// clean is what holds for every page: nothing on its console, and nothing asked of any other host.
func (p *tab) clean(address string) {
	p.odd.Lock()
	defer p.odd.Unlock()
	for _, said := range p.odd.list {
		if p.refused && strings.Contains(said, "Failed to load resource") {
			continue
		}
		p.Errorf("on the console: %s", said)
	}
	own, err := url.Parse(address)
	if err != nil {
		p.Fatal(err)
	}
	asked := 0
	p.hosts.Range(func(host, _ any) bool {
		asked++
		if host != own.Host {
			p.Errorf("the page asked %v", host)
		}
		return true
	})
	if asked == 0 {
		p.Error("no request was seen: the test does not see them")
	}
}

func (p *tab) do(a chromedp.Action[chromedp.Void]) {
	p.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, time.Minute)
	defer cancel()
	if p.ctx.Value(started{}) == nil { // the first call starts the tab, which a time limit would end
		ctx = p.ctx
		p.ctx = context.WithValue(p.ctx, started{}, true)
	}
	if _, err := chromedp.Run(ctx, a); err != nil {
		p.Fatal(err)
	}
}

type started struct{}

// wait waits until something holds in the page.
func (p *tab) wait(what, holds string) {
	p.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, time.Minute)
	defer cancel()
	if _, err := chromedp.Run(ctx, chromedp.Poll[bool](holds, chromedp.WithPollingInterval(50*time.Millisecond))); err != nil {
		text, _ := chromedp.Run(p.ctx, chromedp.Evaluate[string](`document.body.innerText`))
		p.Fatalf("%s: not so: %s: %v; the page says:\n%s", what, holds, err, text)
	}
}

func eval[T any](p *tab, expression string) T {
	p.Helper()
	v, err := chromedp.Run(p.ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		p.Fatalf("%s: %v", expression, err)
	}
	return v
}

func (p *tab) text(id string) string {
	p.Helper()
	return eval[string](p, fmt.Sprintf(`document.getElementById(%q).textContent`, id))
}

// field waits for a field to be shown.
func (p *tab) field() {
	p.Helper()
	p.wait("a field is shown", `!document.getElementById('field').hidden && document.querySelector('#map canvas') !== null && document.getElementById('field').dataset.whole !== undefined`)
}

// picture keeps what the page looks like in the folder that BALK_PICTURES names, for people to look at.
func (p *tab) picture(name string) {
	p.Helper()
	dir := os.Getenv("BALK_PICTURES")
	if dir == "" {
		return
	}
	size := eval[[3]int64](p, `[innerWidth, innerHeight, Math.min(document.documentElement.scrollHeight, 9000)]`)
	if !strings.HasPrefix(name, "phone") { // of these as much as fits
		p.do(chromedp.EmulateViewport(size[0], size[2])) // a picture of more than is seen has maps that are not drawn yet
		defer p.do(chromedp.EmulateViewport(size[0], size[1]))
	}
	time.Sleep(600 * time.Millisecond) // the map draws when it finds time
	png, err := chromedp.Run(p.ctx, chromedp.CaptureScreenshot())
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644)
	}
	if err != nil {
		p.Fatal(err)
	}
}

// report is as much of a report as is compared.
type report struct {
	Balance struct{ Field, Missed, Once float64 }
	Strips  []struct {
		Number int
		Area   float64
		At     [2]float64
	}
	Ribbons struct{ Area float64 }
	Slope   struct {
		Known  float64
		Across struct{ Slope float64 }
	}
}

func reported(t *testing.T, args ...string) (r report) {
	t.Helper()
	out, code := balk(t, append([]string{"check", "--json"}, args...)...)
	if code != 0 {
		t.Fatal(out)
	}
	if err := json.Unmarshal([]byte(out), &r); err != nil {
		t.Fatal(err)
	}
	return r
}
