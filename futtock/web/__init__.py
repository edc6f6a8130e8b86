"""The web app: the whole job on one screen after another. It asks the job and shows the answer."""
