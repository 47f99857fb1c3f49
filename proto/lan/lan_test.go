package lan

import (
	"net"
	"testing"
)

func TestInterfaces(t *testing.T) {
	all := Interfaces()
	loopbacks := 0
	for n, i := range all {
		if i.Flags&net.FlagUp == 0 || len(Addresses(i)) == 0 {
			t.Errorf("%s is down or without address", i.Name)
		}
		if i.Flags&net.FlagLoopback != 0 {
			loopbacks++
			if n != len(all)-1 {
				t.Errorf("loopback %s comes before others", i.Name)
			}
		}
	}
	if got := len(Loopback()); got != loopbacks {
		t.Errorf("%d loopback interfaces, want %d", got, loopbacks)
	}
}

func TestVirtual(t *testing.T) {
	for name, want := range map[string]bool{
		"eth0": false, "wlan0": false, "enp3s0": false, "Wi-Fi": false, "bridge0": false, "lo": false,
		"docker0": true, "br-12ab34": true, "veth99": true, "vEthernet (WSL)": true,
	} {
		if got := isVirtual(name); got != want {
			t.Errorf("%s: %v, want %v", name, got, want)
		}
	}
}
