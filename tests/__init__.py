"""The tests, folder for folder as in `service/`; whole stories in `season/`; what they stand on in `infra/`."""
