"""Published values with spread, population, citation and how each is known; and the defaults that rest on them."""
