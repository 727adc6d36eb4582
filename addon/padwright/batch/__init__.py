"""Many parts: every job below a folder, on this machine's cores or a cluster's workers, on disks or object storage."""
