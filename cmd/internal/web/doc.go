// Package web is the page on which a field is looked at: a server on this computer, and the page it hands to a browser.
//
// In: arguments as balk check takes them, files put on the page, and suppositions such as another width. Out: the reports of
// job, the ground as numbers to draw, and the page itself, which is bundled from the sources in page. It is the only room that
// knows HTTP. It judges nothing: whatever the page shows is what balk check says of the same arguments, and those are shown.
package web

//go:generate go run -C page .
