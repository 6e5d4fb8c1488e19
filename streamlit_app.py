"""Start of the app: ``streamlit run streamlit_app.py``."""
