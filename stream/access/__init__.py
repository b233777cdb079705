"""Who is let in, and how: addresses, passwords, TLS, keys, and the clients built on them."""
