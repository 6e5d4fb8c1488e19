"""Start of the app: ``streamlit run streamlit_app.py``."""

from visualiser.app.main import run

run()
