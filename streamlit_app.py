"""Start of the app: ``streamlit run streamlit_app.py``.

Imported, this is the server, with who may ask it; run, it draws the page once.
"""

if __name__ == "__main__":
    from visualiser.app.main import run

    run()
else:
    from streamlit.starlette import App

    from visualiser.app.kept_presses import keep_presses
    from visualiser.app.replies import keep_replies
    from visualiser.app.serving import open_browser, protection

    keep_presses()
    keep_replies()
    app = App(__file__, middleware=protection(), lifespan=open_browser)
