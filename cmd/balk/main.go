// Command balk finds the strips that a farm implement missed.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"

	"balk/cmd/internal/cli"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	// Who interrupts twice is obeyed already: what was begun is just being removed. Only where that takes long does the next
	// interrupt end the process at once.
	context.AfterFunc(ctx, func() { time.AfterFunc(2*time.Second, stop) })
	os.Exit(cli.Run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}
