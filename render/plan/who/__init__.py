"""Who lights a place, which tone the backdrop gets, and the cheapest way to a darker one."""
