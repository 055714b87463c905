"""How a tablet in the building reaches the server: its name, its certificate, the page that helps to trust it."""
