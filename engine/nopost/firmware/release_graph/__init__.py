"""A board's releases as a graph: which may follow which, what each gains and loses, where there is no way back."""
