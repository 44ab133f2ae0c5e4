package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net"
	"net/http"
	"os"
	"runtime/debug"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"coverplate/audit"
	"coverplate/cmd/coverplate/desk"
	"coverplate/ingest/catalogue"
)

// deskOptions is how a desk is opened.
type deskOptions struct {
	Addr string
	LAN  bool
	For  []string // NAME=look or NAME=choose
}

// deskAddr is where a desk is found unless another place is given.
const deskAddr = "127.0.0.1:8473"

func newDesk(at surroundings, where *string) *cobra.Command {
	var o deskOptions
	cmd := &cobra.Command{
		Use:   "desk",
		Short: "open the shoot as a page to look at and decide on",
		Long: `Serves a local web page that shows the shoot as it stands and takes what people
decide: a docket a dish, the book as it lies open, frames without a dish, days,
props, cards. It follows an ingest that runs beside it. Every decision is kept
with its hour and who made it, and can be taken back.

Only this machine can open it. With --lan phones and tablets in the studio's
network can, each by a link of its own that opens once: --for NAME=look or
NAME=choose prints one, and the page Links makes more. A link shows every
picture to whoever holds it, and the network sees what is sent: use it in a
studio that you trust. Ctrl-C ends it, and all links with it.`,
		Example: `  coverplate desk
  coverplate desk --addr 127.0.0.1:9000
  coverplate desk --lan --for Maja=choose --for kitchen=look`,
		Args: usage(cobra.NoArgs, "no words"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runDesk(cmd.Context(), at, *where, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.Addr, "addr", deskAddr, "`HOST:PORT` to listen on")
	f.BoolVar(&o.LAN, "lan", false, "let in other machines by links")
	f.StringArrayVar(&o.For, "for", nil, "print a link for `NAME=look` or NAME=choose")
	return cmd
}

func runDesk(ctx context.Context, at surroundings, where string, o deskOptions) error {
	host, port, err := net.SplitHostPort(o.Addr)
	if err != nil {
		return misused("give it like 127.0.0.1:8473", "--addr %s: %v", o.Addr, err)
	}
	ip := net.ParseIP(host)
	if host == "localhost" {
		host, ip = "127.0.0.1", net.IPv4(127, 0, 0, 1)
	}
	switch {
	case ip == nil:
		return misused("give a number, like 127.0.0.1:8473", "--addr %s names no address of this machine", o.Addr)
	case !ip.IsLoopback() && !o.LAN:
		return misused("leave --addr out, or add --lan to let other machines in by links", "--addr %s can be reached from outside", o.Addr)
	case o.LAN && o.Addr == deskAddr:
		host = "0.0.0.0"
	case o.LAN && ip.IsLoopback():
		return misused("leave --addr out, or give an address of the network, like 0.0.0.0:8473", "--addr %s can't be reached by the machines that --lan would let in", o.Addr)
	case len(o.For) > 0 && !o.LAN:
		return misused("add --lan", "--for makes links for other machines")
	}
	guests, err := guestsOf(o.For)
	if err != nil {
		return err
	}
	s, err := openShoot(where)
	if err != nil {
		return err
	}
	store, err := s.catalogue()
	if err != nil {
		return err
	}
	defer store.Close()
	listener, err := net.Listen("tcp", net.JoinHostPort(host, port))
	if err != nil {
		return withHint(err, "another desk may be open there; give --addr 127.0.0.1:0 for any free place")
	}
	defer listener.Close()
	place := listener.Addr().(*net.TCPAddr)
	d, err := desk.New(desk.Options{
		Dir: s.Dir, Store: store, Copies: s.Settings.Copies, Who: at.Who(), Hosts: hostsOf(place, o.LAN), LAN: o.LAN,
		Now: at.Now, Where: s.Settings.Where, Stamp: func() string { return s.stamp(at.Now()) }, Underway: s.underway,
		Gather: func(ctx context.Context, before []catalogue.Frame) (audit.Shoot, error) {
			now, err := openShoot(s.Dir)
			if err != nil {
				return audit.Shoot{}, err
			}
			g, err := now.planned(at.Now())
			if err == nil {
				g.Frames = before
				err = now.fillBare(ctx, store, &g)
			}
			return g.Shoot, err
		},
	})
	if err != nil {
		return err
	}
	defer d.Close()
	fmt.Fprintf(at.Stdout, "The desk is open; Ctrl-C ends it.\n  http://%s/\n", net.JoinHostPort("127.0.0.1", strconv.Itoa(place.Port)))
	for _, g := range guests {
		fmt.Fprintf(at.Stdout, "For %s, once:\n", plain(g.name))
		for _, link := range d.Link(g.name, g.choose) {
			fmt.Fprintf(at.Stdout, "  %s\n", link)
		}
	}
	return serveDesk(ctx, d, listener)
}

// deskMemory is the memory, bytes, from which the desk collects what it no
// longer needs rather than take more: about what it takes to judge a season of
// frames. The program itself and SQLite's pages come to it.
const deskMemory = 96 << 20

// serveDesk serves until ctx ends.
func serveDesk(ctx context.Context, d *desk.Desk, l net.Listener) error {
	// It stands beside other programs all day: memory is dearer than a little
	// time.
	defer debug.SetGCPercent(debug.SetGCPercent(25))
	if before := debug.SetMemoryLimit(-1); before == math.MaxInt64 { // GOMEMLIMIT says nothing else
		defer debug.SetMemoryLimit(debug.SetMemoryLimit(deskMemory))
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	ended := make(chan error, 1)
	go func() { ended <- d.Run(ctx); stop() }()
	err := serveUntil(ctx, d.Handler(), l)
	stop()
	return errors.Join(<-ended, err)
}

// serveUntil serves pages until ctx ends.
func serveUntil(ctx context.Context, pages http.Handler, l net.Listener) error {
	server := &http.Server{Handler: pages, ReadHeaderTimeout: 10 * time.Second, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 1 << 16,
		BaseContext: func(net.Listener) context.Context { return ctx }}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(l) }()
	select {
	case <-ctx.Done():
	case err := <-ended:
		return err
	}
	patience, end := context.WithTimeout(context.WithoutCancel(ctx), 3*time.Second)
	defer end()
	server.Shutdown(patience)
	if err := <-ended; !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// guest is somebody a link is made for.
type guest struct {
	name   string
	choose bool
}

func guestsOf(words []string) ([]guest, error) {
	var all []guest
	for _, w := range words {
		name, role, ok := strings.Cut(w, "=")
		if name = strings.TrimSpace(name); !ok || name == "" || role != "look" && role != "choose" {
			return nil, misused("give it like --for Maja=choose or --for kitchen=look", "--for %q says neither who nor what they may do", w)
		}
		all = append(all, guest{name, role == "choose"})
	}
	return all, nil
}

// hostsOf are the names by which a desk at a place may be asked for: this
// machine's, and with lan its addresses in the network.
func hostsOf(place *net.TCPAddr, lan bool) []string {
	port := strconv.Itoa(place.Port)
	all := []string{"127.0.0.1:" + port, "localhost:" + port, "[::1]:" + port}
	if !lan {
		return all
	}
	addrs, err := net.InterfaceAddrs()
	if err != nil {
		return all
	}
	for _, a := range addrs {
		if n, ok := a.(*net.IPNet); ok && !n.IP.IsLoopback() && !n.IP.IsLinkLocalUnicast() && (place.IP.IsUnspecified() || place.IP.Equal(n.IP)) {
			all = append(all, net.JoinHostPort(n.IP.String(), port))
		}
	}
	return all
}

// stamp is another text whenever the plan, the settings or the day changed.
func (s shoot) stamp(now time.Time) string {
	text := s.Settings.today(now).String()
	for _, name := range []string{"plan.csv", "plan.xlsx", settingsFile} {
		if info, err := os.Stat(s.Dir + string(os.PathSeparator) + name); err == nil {
			text += fmt.Sprintf(" %s %d %d", name, info.Size(), info.ModTime().UnixNano())
		}
	}
	return text
}
