using System.Globalization;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Abc;

/// <summary>Reads a line of music into its voice. ABC 2.1, section 4, from memory.</summary>
/// <param name="tune">The tune.</param>
/// <param name="line">The line.</param>
internal sealed class AbcMusicLine(AbcTuneReader tune, AbcLine line)
{
    /// <summary>Largest number of an ending, and most numbers of one.</summary>
    private const int MostEndings = 32;

    private readonly string _text = line.Text;
    private AbcVoice _voice = tune.Voice;
    private int _at;

    // Tuplet: notes left, and what they belong to.
    private int _tupletLeft;
    private Tuplet? _tuplet;

    // Broken rhythm: the factor for the next note.
    private Rational? _broken;
    private AbcEvent? _last;
    private readonly List<AbcEvent> _graces = [];

    private Origin Here => new(tune.FileName, line.Number, $"voice {_voice.PartId}, bar {_voice.Measures.Count}");

    /// <summary>Reads the line.</summary>
    public void Read()
    {
        _voice.LineNotes.Clear();
        _voice.LineVerses = 0;
        if (_text.AsSpan().TrimStart() is not ['|' or ':', ..] and not ['[', '|', ..] and not [])
        {
            tune.LineBreak(_voice, line.Number);
        }

        while (_at < _text.Length && !tune.IsRefused)
        {
            var sign = _text[_at];
            if (sign is ' ' or '\t' or '`' or '$' or '\\')
            {
                _at++;
            }
            else if (sign == '[' && Field())
            {
                // Taken.
            }
            else if (sign is '|' or ':' || (sign == '[' && _at + 1 < _text.Length && (_text[_at + 1] is '|' || char.IsAsciiDigit(_text[_at + 1]))))
            {
                BarLine();
            }
            else if (sign == '"')
            {
                Quoted();
            }
            else if (sign is '!' or '+')
            {
                Decoration(sign);
            }
            else if (sign == '{')
            {
                Graces();
            }
            else if (sign == '(' && _at + 1 < _text.Length && char.IsAsciiDigit(_text[_at + 1]))
            {
                TupletStart();
            }
            else if (sign == '(')
            {
                _at++;
                Sign(_voice.Pending, new Mark(MarkKind.Slur) { Edge = MarkEdge.Start });
            }
            else if (sign == ')')
            {
                _at++;
                if (_last is not null)
                {
                    Sign(_last.Marks, new Mark(MarkKind.Slur) { Edge = MarkEdge.Stop });
                }
            }
            else if (sign is '>' or '<')
            {
                Broken(sign);
            }
            else if (sign == '-')
            {
                _at++;
                if (_last is not null)
                {
                    _voice.OpenTies(_last.Heads);
                }
            }
            else if (sign == '&')
            {
                _at++;
                Overlay();
            }
            else if (sign == '[')
            {
                Chord();
            }
            else if (sign is 'z' or 'x' or 'Z' or 'X')
            {
                Rest(sign);
            }
            else if (sign == 'y')
            {
                // Space for the printer.
                _at++;
                _ = Length();
            }
            else if (sign is '^' or '_' or '=' || (char.IsAsciiLetter(sign) && char.ToUpperInvariant(sign) is >= 'A' and <= 'G'))
            {
                if (Head() is { } head)
                {
                    Put([head], Length());
                }
            }
            else if ((tune.UserSign(sign) ?? Shorthand(sign)) is { } decoration)
            {
                _at++;
                Decorate(decoration);
            }
            else
            {
                tune.Warn(line.Number, $"'{sign}' has no meaning here", "it is left out");
                _at++;
            }
        }

        tune.Voice = _voice;
    }

    // [K:...] and so on.
    private bool Field()
    {
        if (_at + 2 >= _text.Length || _text[_at + 2] != ':' || !char.IsAsciiLetter(_text[_at + 1]))
        {
            return false;
        }

        var end = _text.IndexOf(']', _at);
        end = end < 0 ? _text.Length : end;
        var field = new AbcLine(line.Number, _text[(_at + 1)..end]);
        _at = Math.Min(end + 1, _text.Length);
        tune.Voice = _voice;
        tune.Field(field, inline: true);
        if (tune.Voice != _voice)
        {
            _voice = tune.Voice;
            _voice.LineNotes.Clear();
            _voice.LineVerses = 0;
            _last = null;
        }

        return true;
    }

    // Any run of |, :, [ and ], and the numbers of an ending behind it.
    private void BarLine()
    {
        var start = _at;
        while (_at < _text.Length && (_text[_at] is '|' or ':' or ']' || (_text[_at] == '[' && _at + 1 < _text.Length && _text[_at + 1] is '|' or ']')))
        {
            _at++;
        }

        var bar = _text[start.._at];
        if (_at < _text.Length && _text[_at] == '[' && _at + 1 < _text.Length && char.IsAsciiDigit(_text[_at + 1]))
        {
            _at++;
        }

        var numbers = EndingNumbers(bar);
        _tuplet = null;
        _tupletLeft = 0;
        var closes = bar.Contains(":|", StringComparison.Ordinal) || bar.StartsWith("::", StringComparison.Ordinal);
        var opens = bar.EndsWith("|:", StringComparison.Ordinal) || bar.EndsWith("::", StringComparison.Ordinal) || bar.Contains("[:", StringComparison.Ordinal);
        var times = closes ? 1 + bar.TakeWhile(sign => sign == ':').Count() : 0;
        var doubled = bar is "||" or "|]" or "[|" || (bar.Contains("||", StringComparison.Ordinal) && !closes && !opens);
        tune.BarLine(_voice, line.Number, new AbcBar(closes, times, opens, doubled, bar.EndsWith("|]", StringComparison.Ordinal) || closes, numbers));
    }

    private ValueList<int> EndingNumbers(string bar)
    {
        var numbers = new List<int>();
        if (bar.Length > 0 && bar[^1] is not ('|' or ']'))
        {
            return [];
        }

        while (_at < _text.Length && char.IsAsciiDigit(_text[_at]))
        {
            var first = Number() ?? 1;
            var last = first;
            if (_at + 1 < _text.Length && _text[_at] == '-' && char.IsAsciiDigit(_text[_at + 1]))
            {
                _at++;
                last = Number() ?? first;
            }

            if (first is < 1 or > MostEndings || last > MostEndings || numbers.Count > MostEndings)
            {
                tune.Warn(line.Number, $"an ending must be for playings 1 to {MostEndings}", "the number is left out");
            }
            else
            {
                numbers.AddRange(Enumerable.Range(first, Math.Max(1, last - first + 1)));
            }

            if (_at + 1 < _text.Length && _text[_at] is ',' or '.' && char.IsAsciiDigit(_text[_at + 1]))
            {
                _at++;
            }
            else
            {
                break;
            }
        }

        return [.. numbers];
    }

    // A chord symbol, or a text when it begins with ^ _ < > or @.
    private void Quoted()
    {
        var end = _text.IndexOf('"', _at + 1);
        if (end < 0)
        {
            tune.Warn(line.Number, "a quotation mark has no second one", "the rest of the line is left out");
            _at = _text.Length;
            return;
        }

        var text = _text[(_at + 1)..end].Trim();
        _at = end + 1;
        if (text.Length == 0)
        {
            return;
        }

        if (text[0] is '^' or '_' or '<' or '>' or '@')
        {
            tune.Mark(_voice, new WordsMark(_voice.At, text[1..].Trim()) { Origin = Here });
            return;
        }

        // A second chord in brackets is an alternative.
        var main = text.Split('(', ';', '\n')[0].Trim();
        var plain = text.StartsWith('(') ? text.Trim('(', ')') : main.Length > 0 && text.Contains('(') && ChordSymbol.TryParse(text, out _, out _) ? text : main;
        plain = plain is "N.C" or "NC" ? "N.C." : plain;
        if (!ChordSymbol.TryParse(plain, out var symbol, out _) && !ChordSymbol.TryParse(plain = WithUsualBass(plain), out symbol, out _))
        {
            var slash = plain.IndexOf('/');
            if (slash <= 0 || !ChordSymbol.TryParse(plain = plain[..slash].Trim(), out symbol, out _))
            {
                tune.Mark(_voice, new WordsMark(_voice.At, text) { Origin = Here });
                tune.Warn(line.Number, $"'{AbcTuneReader.Short(text)}' is not a chord symbol that is known", "it is kept as a remark");
                return;
            }

            tune.Warn(line.Number, $"the bass of '{AbcTuneReader.Short(text)}' is not known", "the chord is read without it");
        }

        var at = _voice.At;
        if (_voice.Current.Marks.Exists(mark => mark is ChordMark && mark.At == at))
        {
            tune.NotCarried(line.Number, $"{AbcTuneReader.Short(plain)}, a second chord symbol at the same note");
            return;
        }

        tune.Mark(_voice, new ChordMark(at, [new WrittenChord { Text = plain, Symbol = symbol }]) { Origin = Here });
    }

    // Many files write the bass in lower case, and some its sharp as +.
    private static string WithUsualBass(string chord)
    {
        var slash = chord.IndexOf('/');
        return slash < 0 || slash + 1 >= chord.Length
            ? chord
            : string.Concat(chord.AsSpan(0, slash + 1), chord.AsSpan(slash + 1, 1).ToString().ToUpperInvariant(), chord[(slash + 2)..].Replace('+', '#'));
    }

    private void Decoration(char sign)
    {
        var end = _text.IndexOf(sign, _at + 1);
        if (end < 0 || end == _at + 1 || _text.AsSpan(_at, end - _at).ContainsAny('|', ' '))
        {
            // A lone ! is an old line break.
            _at++;
            return;
        }

        var name = _text[(_at + 1)..end];
        _at = end + 1;
        Decorate(name);
    }

    private void Decorate(string name)
    {
        switch (name)
        {
            case "segno":
                tune.Mark(_voice, new JumpMark(_voice.At, JumpKind.Segno) { Origin = Here });
                return;
            case "coda":
                tune.Mark(_voice, new JumpMark(_voice.At, tune.TakeCoda() ? JumpKind.Coda : JumpKind.ToCoda) { Origin = Here });
                return;
            case "D.S." or "D.S.alcoda" or "D.S.alfine" or "dalsegno":
                tune.Mark(_voice, new JumpMark(_voice.At, JumpKind.DalSegno) { Origin = Here });
                return;
            case "D.C." or "D.C.alcoda" or "D.C.alfine" or "dacapo":
                tune.Mark(_voice, new JumpMark(_voice.At, JumpKind.DaCapo) { Origin = Here });
                return;
            case "dacoda":
                tune.Mark(_voice, new JumpMark(_voice.At, JumpKind.ToCoda) { Origin = Here });
                return;
            case "fine":
                tune.Mark(_voice, new JumpMark(_voice.At, JumpKind.Fine) { Origin = Here });
                return;
        }

        var mark = name == "roll" ? new Mark(MarkKind.Turn) : TuneMarks.Read(name.Replace("trill(", "trill", StringComparison.Ordinal));
        if (mark is null)
        {
            tune.NotCarried(line.Number, $"the decoration !{AbcTuneReader.Short(name)}!");
        }
        else if (TuneMarks.IsPlaced(mark.Kind))
        {
            if (_voice.Current.PartMarks.Count < AbcTuneReader.MostMarks)
            {
                _voice.Current.PartMarks.Add(new PlacedMark(_voice.At, mark));
            }
        }
        else
        {
            Sign(_voice.Pending, mark);
        }
    }

    private void Sign(List<Mark> marks, Mark mark)
    {
        if (marks.Count < AbcTuneReader.MostAtNote)
        {
            tune.Count(line.Number);
            marks.Add(mark);
        }
        else
        {
            tune.NotCarried(line.Number, $"signs beyond {AbcTuneReader.MostAtNote} at a note");
        }
    }

    private static string? Shorthand(char sign) => sign switch
    {
        '.' => "staccato",
        '~' => "roll",
        'H' => "fermata",
        'L' => "accent",
        'M' => "lowermordent",
        'O' => "coda",
        'P' => "uppermordent",
        'S' => "segno",
        'T' => "trill",
        'u' => "upbow",
        'v' => "downbow",
        'J' => "slide",
        'R' => "roll",
        _ => null,
    };

    private void Graces()
    {
        _at++;
        var slash = _at < _text.Length && _text[_at] == '/';
        if (slash)
        {
            _at++;
        }

        while (_at < _text.Length && _text[_at] != '}')
        {
            if (_text[_at] is '^' or '_' or '=' || (char.IsAsciiLetter(_text[_at]) && char.ToUpperInvariant(_text[_at]) is >= 'A' and <= 'G'))
            {
                if (Head() is { } head)
                {
                    var length = Length();
                    var grace = new AbcEvent(Here, Span.Of(1, 8) * length) { IsGrace = true, HasSlash = slash };
                    grace.Heads.Add(head);
                    if (_graces.Count < AbcTuneReader.MostAtNote)
                    {
                        tune.Count(line.Number);
                        _graces.Add(grace);
                    }
                    else
                    {
                        tune.NotCarried(line.Number, $"grace notes beyond {AbcTuneReader.MostAtNote} before a note");
                    }
                }
            }
            else
            {
                _at++;
            }
        }

        _at = Math.Min(_at + 1, _text.Length);
    }

    private void TupletStart()
    {
        _at++;
        var count = Number() ?? 3;
        int? normal = null;
        int? notes = null;
        if (_at < _text.Length && _text[_at] == ':')
        {
            _at++;
            normal = Number();
            if (_at < _text.Length && _text[_at] == ':')
            {
                _at++;
                notes = Number();
            }
        }

        if (count is < 1 or > 64 || normal is < 1 or > 64 || notes is < 1 or > 256)
        {
            tune.Warn(line.Number, "a tuplet must have 1 to 64 notes", "it is read as plain notes");
            return;
        }

        var threes = _voice.Meter is { Pairs.Count: 1 } meter && meter.Pairs[0].Beats.Count == 1 && meter.Pairs[0].Beats[0] is 6 or 9 or 12;
        var usual = count switch { 2 or 4 or 8 => 3, 3 or 6 => 2, _ => threes ? 3 : 2 };
        _tuplet = new Tuplet(tune.NextTuplet(), count, normal ?? usual);
        _tupletLeft = notes ?? count;
    }

    // A>B: the first dotted, the second halved; >> and >>> further.
    private void Broken(char sign)
    {
        var count = 0;
        while (_at < _text.Length && _text[_at] == sign)
        {
            count++;
            _at++;
        }

        if (_last is null || _broken is not null || count > 3)
        {
            tune.Warn(line.Number, $"'{sign}' must stand between two notes", "it is left out");
            return;
        }

        var shorter = new Rational(1, 1 << count);
        var longer = 2 - shorter;
        _last.Written *= sign == '>' ? longer : shorter;
        _broken = sign == '>' ? shorter : longer;
    }

    private void Overlay()
    {
        // Another layer from the bar's start.
        if (_voice.Current.Layers.Count >= 16)
        {
            tune.Warn(line.Number, "a bar has more than 16 layers (&)", "further ones are joined to the last");
            return;
        }

        _voice.Current.Layers.Add([]);
        _voice.Layer = _voice.Current.Layers.Count - 1;
        _last = null;
    }

    private void Chord()
    {
        _at++;
        var heads = new List<AbcHead>();
        var tied = new List<AbcHead>();
        Rational? inner = null;
        while (_at < _text.Length && _text[_at] != ']')
        {
            var sign = _text[_at];
            if (sign is '^' or '_' or '=' || (char.IsAsciiLetter(sign) && char.ToUpperInvariant(sign) is >= 'A' and <= 'G'))
            {
                if (Head() is { } head)
                {
                    var length = Length();
                    inner ??= length;
                    if (heads.Count < AbcTuneReader.MostAtNote)
                    {
                        tune.Count(line.Number);
                        heads.Add(head);
                    }
                    else
                    {
                        tune.NotCarried(line.Number, $"notes beyond {AbcTuneReader.MostAtNote} in a chord");
                    }

                    if (_at < _text.Length && _text[_at] == '-')
                    {
                        _at++;
                        tied.Add(head);
                    }
                }
            }
            else if (sign is '!' or '+')
            {
                Decoration(sign);
            }
            else
            {
                _at++;
            }
        }

        if (_at >= _text.Length)
        {
            tune.Warn(line.Number, "a chord has no closing ]", "it ends with the line");
        }

        _at = Math.Min(_at + 1, _text.Length);
        if (heads.Count > 0)
        {
            Put(heads, Length() * (inner ?? 1));
            _voice.OpenTies(tied.Take(heads.Count));
        }
    }

    private void Rest(char sign)
    {
        _at++;
        if (sign is 'Z' or 'X')
        {
            var bars = Math.Clamp(Number() ?? 1, 1, AbcTuneReader.MostMeasures);
            tune.RestBars(_voice, line.Number, bars, hidden: sign == 'X', Here);
            _last = null;
            return;
        }

        var length = Length();
        var rest = new AbcEvent(Here, _voice.Unit * length) { IsHidden = sign == 'x' };
        Place(rest);
    }

    private void Put(IEnumerable<AbcHead> heads, Rational length)
    {
        var one = new AbcEvent(Here, _voice.Unit * length);
        one.Heads.AddRange(heads);
        Place(one);
    }

    private void Place(AbcEvent one)
    {
        if (one.Written <= Span.Zero)
        {
            tune.Warn(line.Number, "a note has no length", "it is left out");
            return;
        }

        if (_broken is { } factor)
        {
            one.Written *= factor;
            _broken = null;
        }

        if (_tupletLeft > 0)
        {
            one.Tuplet = _tuplet;
            _tupletLeft--;
        }

        var layer = _voice.Current.Layers[_voice.Layer];
        layer.AddRange(_graces);
        _graces.Clear();
        if (one.Heads.Count > 0 || _voice.Pending.TrueForAll(mark => mark.Kind == MarkKind.Fermata))
        {
            one.Marks.AddRange(_voice.Pending);
            _voice.Pending.Clear();
        }

        _voice.Tie(one);
        layer.Add(one);
        _last = one;
        tune.Count(_voice, line.Number);
        if (one.TakesASyllable && _voice.Layer == 0)
        {
            _voice.LineNotes.Add((one, _voice.Measures.Count));
        }
    }

    // An accidental, a letter and its octave marks; null with a warning if no letter follows.
    private AbcHead? Head()
    {
        var start = _at;
        while (_at < _text.Length && _text[_at] is '^' or '_' or '=')
        {
            _at++;
        }

        var sign = _at == start ? null : _text[start.._at];
        if (_at >= _text.Length || char.ToUpperInvariant(_text[_at]) is < 'A' or > 'G' || sign is { Length: > 2 })
        {
            tune.Warn(line.Number, $"'{_text[start..Math.Min(_at + 1, _text.Length)]}' is not a note", "it is left out");
            _at = Math.Max(_at, start + 1);
            return null;
        }

        var letter = _text[_at++];
        var octave = char.IsAsciiLetterUpper(letter) ? 4 : 5;
        while (_at < _text.Length && _text[_at] is ',' or '\'')
        {
            octave += _text[_at++] == ',' ? -1 : 1;
        }

        return new AbcHead(_voice.Pitch(letter, Math.Clamp(octave, 0, 9), sign));
    }

    // 3, /2, 3/2, /, //: a multiple of the unit note length; 1 for nothing.
    private Rational Length()
    {
        var above = Number() ?? 1;
        var below = 1L;
        while (_at < _text.Length && _text[_at] == '/')
        {
            _at++;
            below *= Number() ?? 2;
            if (below > 4096)
            {
                tune.Warn(line.Number, "a note is shorter than can be written", "it is left out");
                below = 4096;
            }
        }

        if (above is < 1 or > 1024 || below < 1)
        {
            tune.Warn(line.Number, "the length of a note must be a number from 1 to 1024", "it is read as 1");
            return 1;
        }

        return new Rational(above, below);
    }

    private int? Number()
    {
        var start = _at;
        while (_at < _text.Length && char.IsAsciiDigit(_text[_at]))
        {
            _at++;
        }

        return _at == start ? null
            : int.TryParse(_text.AsSpan(start, _at - start), NumberStyles.None, CultureInfo.InvariantCulture, out var number) ? number : int.MaxValue;
    }
}

/// <summary>A bar line.</summary>
/// <param name="Closes">True when a repeat ends here.</param>
/// <param name="Times">How often the repeat is played.</param>
/// <param name="Opens">True when a repeat begins here.</param>
/// <param name="Doubled">True for a double bar line.</param>
/// <param name="EndsEnding">True when it ends the bracket of an ending.</param>
/// <param name="Numbers">The numbers of the ending that begins here; empty for none.</param>
internal readonly record struct AbcBar(bool Closes, int Times, bool Opens, bool Doubled, bool EndsEnding, ValueList<int> Numbers);
