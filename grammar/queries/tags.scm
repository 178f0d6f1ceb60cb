; tags
