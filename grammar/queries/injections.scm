; injections
