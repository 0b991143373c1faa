"""The script that Streamlit runs for the web page (see ``ui.page_frame``)."""

from ui.page_frame import page

if __name__ == "__main__":
    page()
