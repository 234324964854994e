"""The doors to exercise kinds and network families: what each must offer, and finding them."""
