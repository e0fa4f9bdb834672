"""Whether drawn pages of A4 are tidy: all of it on the page, and nothing over anything else."""

from matplotlib.backends.backend_agg import FigureCanvasAgg

from dashboard.export.paper import HEIGHT_MM, WIDTH_MM, Paper


def assert_tidy(papers: list[Paper]) -> None:
    """Fail where text lies outside of the page, over other text or over a drawing, or a drawing or box outside."""
    for paper in papers:
        figure = paper.figure
        assert [round(25.4 * edge) for edge in figure.get_size_inches()] == [WIDTH_MM, HEIGHT_MM] == [210, 297]
        renderer = FigureCanvasAgg(figure).get_renderer()
        page = figure.bbox
        texts = [(t.get_text(), t.get_window_extent(renderer)) for t in figure.texts if t.get_text()]
        drawings = [(f"drawing {n}", axes.get_window_extent(renderer)) for n, axes in enumerate(figure.axes)]
        boxes = [("box", patch.get_window_extent(renderer)) for patch in figure.artists]
        for text, box in (*texts, *drawings, *boxes):
            assert page.x0 <= box.x0, text
            assert box.x1 <= page.x1, text
            assert page.y0 <= box.y0, text
            assert box.y1 <= page.y1, text
        for i, (text, box) in enumerate(texts):
            for other, second in (*texts[i + 1 :], *drawings):
                wide = min(box.x1, second.x1) - max(box.x0, second.x0)
                high = min(box.y1, second.y1) - max(box.y0, second.y0)
                assert min(wide, high) < 2.0, (text, other)  # pixels of 1/100 inch; descents may touch
        for i, (_, box) in enumerate(drawings):
            assert not any(box.overlaps(second) for _, second in drawings[i + 1 :])
