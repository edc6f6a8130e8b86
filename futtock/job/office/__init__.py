"""What the pages of the web app show and do: views of the job, ready to be set into a page."""
