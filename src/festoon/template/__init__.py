"""The printable surgical template: from a scan and planned curves to a part, with checks of the finished mesh."""
