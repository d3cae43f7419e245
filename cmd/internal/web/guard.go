package web

import (
	"crypto/subtle"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"runtime/debug"
	"strings"
)

// tokenName is that of the token in an address, and begins that of the cookie.
const tokenName = "token"

// guard lets through only requests that come from whoever was given the address: it asks for the token, and for a host and an
// origin that are this server's, so that no page of another site and no name that was turned to this computer gets in.
type guard struct {
	token  string
	cookie string
	hosts  map[string]bool // nil: served to others too, under names nobody knows
	say    func(string)
	next   http.Handler
}

func newGuard(at net.Addr, token string, say func(string), next http.Handler) http.Handler {
	host, port, err := net.SplitHostPort(at.String())
	g := &guard{token: token, cookie: "balk-" + port, say: say, next: http.NewCrossOriginProtection().Handler(next)}
	if err == nil && Loopback(host) {
		g.hosts = map[string]bool{}
		for _, name := range []string{"127.0.0.1", "::1", "localhost", host} {
			g.hosts[net.JoinHostPort(name, port)] = true
		}
	}
	return g
}

// policy lets the page load nothing but its own files, and run no script that stands in it.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

func (g *guard) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Cache-Control", "no-store")
	defer g.broken(w, r)
	if g.hosts != nil && !g.hosts[r.Host] {
		refuse(w, r, http.StatusMisdirectedRequest, fmt.Errorf("host %q: this page is served under another name", r.Host))
		return
	}
	if origin := r.Header.Get("Origin"); origin != "" && origin != "http://"+r.Host {
		refuse(w, r, http.StatusForbidden, fmt.Errorf("origin %q: only this page itself may ask", origin))
		return
	}
	if given := r.URL.Query().Get(tokenName); given != "" && r.URL.Path == "/" && g.knows(given) {
		http.SetCookie(w, &http.Cookie{Name: g.cookie, Value: given, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
		rest := r.URL.Query()
		rest.Del(tokenName)
		http.Redirect(w, r, (&url.URL{Path: "/", RawQuery: rest.Encode()}).String(), http.StatusSeeOther)
		return
	}
	if !g.admits(r) {
		refuse(w, r, http.StatusUnauthorized, fmt.Errorf("open the address that balk serve printed: it has a token in it"))
		return
	}
	g.next.ServeHTTP(w, r)
}

// admits says whether a request carries the token: in the page's cookie, in a header, or, for programs that can do neither, in its address.
func (g *guard) admits(r *http.Request) bool {
	if c, err := r.Cookie(g.cookie); err == nil && g.knows(c.Value) {
		return true
	}
	if bearer, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer "); ok && g.knows(bearer) {
		return true
	}
	return g.knows(r.URL.Query().Get(tokenName))
}

func (g *guard) knows(token string) bool {
	return subtle.ConstantTimeCompare([]byte(token), []byte(g.token)) == 1
}

// broken makes a fault of the program an error of the request it happened in.
func (g *guard) broken(w http.ResponseWriter, r *http.Request) {
	what := recover()
	if what == nil {
		return
	}
	if what == http.ErrAbortHandler {
		panic(what)
	}
	g.say(fmt.Sprintf("%s %s: a fault of the program: %v\n%s", r.Method, r.URL.Path, what, debug.Stack()))
	refuse(w, r, http.StatusInternalServerError, fmt.Errorf("a fault of the program: %v", what))
}
