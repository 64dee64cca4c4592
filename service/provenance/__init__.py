"""The answer to a scan, tracing back and forward, recall and forgetting: sees every stage."""
