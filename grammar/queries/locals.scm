; locals
