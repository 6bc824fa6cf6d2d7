import pytest

from readback.errors import InputError
from readback.measure.labels import read_labels, spread

HEAD = "file,instruction,readback,expected\n"
GOOD = "a.wav,cross runway one four,crossing runway one four,correct\n"


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "a.wav").write_bytes(b"sound")
    return tmp_path


def write(folder, text):
    (folder / "labels.csv").write_text(text, encoding="utf-8")


def test_a_line_becomes_a_labelled_recording(folder):
    head = "voice,file,instruction,readback,authority,callsign,expected,error,split,notes\n"
    line = (
        'Ann,a.wav,"hold short, runway 14",holding,uk,Larkspur 421,incomplete,no runway,tuning,x\n'
    )
    write(folder, head + line)

    [one] = read_labels(folder)

    assert one.file == folder / "a.wav"
    assert (one.instruction, one.authority, one.callsign) == (
        "hold short, runway 14",
        "uk",
        "Larkspur 421",
    )
    assert (one.expected, one.error, one.voice, one.split) == (
        "incomplete",
        "no runway",
        "Ann",
        "tuning",
    )
    assert not one.faithful


@pytest.mark.parametrize(
    ("readback", "expected"),
    [
        ("crossing runway one four", "correct"),
        ("crossing runway three two", "incorrect"),
    ],
)
def test_an_expected_verdict_that_is_not_given_is_that_on_the_typed_words(
    folder, readback, expected
):
    write(folder, f"file,instruction,readback\na.wav,cross runway one four,{readback}\n")

    assert read_labels(folder)[0].expected == expected


def test_a_byte_order_mark_and_blank_lines_do_not_count(folder):
    write(folder, "\ufeff" + HEAD + "\n,,,\n" + GOOD)

    assert len(read_labels(folder)) == 1


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "no column file, instruction, readback"),
        ("file,readback\na.wav,roger\n", "no column instruction"),
        (HEAD, "names no recording"),
        (HEAD + "b.wav,cross,crossing,correct\n", "line 2: b.wav is not in"),
        (HEAD + "a.wav,,crossing,correct\n", "line 2: no instruction"),
        (HEAD + "a.wav,cross,,correct\n", "line 2: no readback"),
        (HEAD + GOOD + GOOD, "line 3: a.wav a second time"),
        (HEAD + "a.wav,cross,crossing,fine\n", 'line 2: "fine" is no expected verdict'),
        (HEAD + "a.wav,cross,crossing,say again\n", 'line 2: "say again" is no expected'),
        (HEAD + "a.wav,hold, short,holding,correct\n", "line 2: more values than columns"),
        (HEAD + 'a.wav,"hold\n', "is no CSV"),
        (
            "file,instruction,readback,authority\na.wav,cross,crossing,mars\n",
            'line 2: no authority "mars"',
        ),
        ("file,instruction,readback,callsign\na.wav,cross,crossing,?\n", "line 2: '?' is no call"),
    ],
)
def test_what_is_wrong_with_the_file_is_told(folder, text, told):
    write(folder, text)

    with pytest.raises(InputError) as caught:
        read_labels(folder)

    assert told in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_folder_that_is_not_there_is_told(tmp_path):
    with pytest.raises(InputError, match="no such folder"):
        read_labels(tmp_path / "nowhere")


def test_a_folder_without_labels_is_told(tmp_path):
    with pytest.raises(InputError, match=r"labels\.csv: no such file"):
        read_labels(tmp_path)


def test_another_encoding_is_told(folder):
    (folder / "labels.csv").write_bytes(HEAD.encode() + b"a.wav,caf\xe9,x,correct\n")

    with pytest.raises(InputError, match="not in UTF-8"):
        read_labels(folder)


# Chosen by hand: twos of 0-1, 2-3, 4-5, 6-7, 8-9, the last alone where the number is odd.
@pytest.mark.parametrize(
    ("total", "count", "taken"),
    [
        (10, 4, [0, 1, 4, 5]),
        (10, 6, [0, 1, 2, 3, 6, 7]),
        (10, 3, [0, 1, 4]),
        (10, 10, list(range(10))),
        (10, 99, list(range(10))),
        (9, 2, [0, 1]),
        (3, None, [0, 1, 2]),
        (1, 1, [0]),
    ],
)
def test_some_recordings_are_spread_over_the_list_two_at_a_time(total, count, taken):
    assert list(spread(range(total), count)) == taken
