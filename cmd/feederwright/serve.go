package main

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"net"
	"os"
	"os/exec"
	"os/signal"
	"runtime"
	"syscall"

	"github.com/spf13/cobra"

	"feederwright/server"
	"feederwright/web"
)

type serveOptions struct {
	listen, token string
	quiet         bool
	openapi       bool
}

func newServe() *cobra.Command {
	var o serveOptions
	c := &cobra.Command{
		Use:   "serve [STUDY|FOLDER]",
		Short: "Open the workbench: the study in a browser, on this machine",
		Long: `Serve opens a study, or a folder of studies, in the browser: what it comes to, the
feeder strip, the map, faults, findings, and the study file itself. The files on
disk are the truth: edits in the page write the same files, changes from outside
are picked up, and what two people changed is shown side by side.

It listens on this machine alone. Another address needs a token: the one given, or
one that is made and printed. It needs no network, and sends nothing anywhere.

The program advises; a licensed engineer decides.`,
		Example: `  feederwright serve examples/velmora
  feederwright serve . --no-browser --listen localhost:8080`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			path := "."
			if len(args) == 1 {
				path = args[0]
			}
			return runServe(c, path, o)
		},
	}
	f := c.Flags()
	f.StringVar(&o.listen, "listen", "localhost:0", "address and port; port 0 takes a free one")
	f.StringVar(&o.token, "token", "", "token that every request must bring (made where it is needed and not given)")
	f.BoolVar(&o.quiet, "no-browser", false, "print the address and open no browser")
	f.BoolVar(&o.openapi, "openapi", false, "print the description of the API (OpenAPI 3.1) and end")
	return c
}

func runServe(c *cobra.Command, path string, o serveOptions) error {
	host, _, err := net.SplitHostPort(o.listen)
	if err != nil {
		return fmt.Errorf("--listen %s: want an address and a port, as localhost:8080", o.listen)
	}
	token := o.token
	if token == "" && !loopback(host) {
		raw := make([]byte, 16)
		rand.Read(raw)
		token = hex.EncodeToString(raw)
	}
	options := server.Options{Path: path, Token: token, Page: web.Page(), Program: program}
	if host != "" && net.ParseIP(host) == nil || net.ParseIP(host) != nil && !net.ParseIP(host).IsUnspecified() {
		options.Hosts = []string{host}
	} else {
		options.Hosts = ownHosts()
	}
	s, err := server.New(options)
	if err != nil {
		return err
	}
	if o.openapi {
		defer s.Close()
		text, err := s.OpenAPI()
		if err != nil {
			return err
		}
		_, err = c.OutOrStdout().Write(append(text, '\n'))
		return err
	}
	l, err := net.Listen("tcp", o.listen)
	if err != nil {
		s.Close()
		return err
	}
	_, port, _ := net.SplitHostPort(l.Addr().String())
	shown := host
	if ip := net.ParseIP(host); host == "" || ip != nil && ip.IsUnspecified() {
		shown = "localhost"
	}
	address := "http://" + net.JoinHostPort(shown, port) + "/"
	open := address
	if token != "" {
		open += "?token=" + token
	}
	fmt.Fprintf(c.OutOrStdout(), "The workbench is at %s\nCtrl-C ends it.\n", open)
	if options.Page == nil {
		fmt.Fprintln(c.ErrOrStderr(), "feederwright: this binary was built without the page; with Node.js 20 or later: make build")
	} else if !o.quiet {
		openBrowser(open)
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	return s.Run(ctx, l)
}

// loopback tells whether a host name means this machine alone.
func loopback(host string) bool {
	if host == "localhost" {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}

// ownHosts are the names by which others may reach this machine.
func ownHosts() []string {
	var list []string
	if name, err := os.Hostname(); err == nil {
		list = append(list, name)
	}
	addresses, _ := net.InterfaceAddrs()
	for _, a := range addresses {
		if n, ok := a.(*net.IPNet); ok {
			list = append(list, n.IP.String())
		}
	}
	return list
}

// openBrowser asks the system to show an address. That it can't is no error: the address is printed.
func openBrowser(address string) {
	name, args := "xdg-open", []string{address}
	switch runtime.GOOS {
	case "darwin":
		name = "open"
	case "windows":
		name, args = "rundll32", []string{"url.dll,FileProtocolHandler", address}
	}
	if c := exec.Command(name, args...); c.Start() == nil {
		go c.Wait()
	}
}
