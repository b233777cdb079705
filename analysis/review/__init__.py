"""What a look back at a session needs computed: selection, order, bands, values at a moment."""
