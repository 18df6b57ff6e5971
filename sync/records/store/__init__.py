"""What a store of records is, whoever keeps them."""
