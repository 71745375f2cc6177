"""The worker: Celery, or a runner without a broker."""
