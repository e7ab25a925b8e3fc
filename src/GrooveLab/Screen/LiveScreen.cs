using System.Text;
using Terminal.Gui.App;
using Terminal.Gui.Drawing;
using Terminal.Gui.Drivers;
using Terminal.Gui.Input;
using Terminal.Gui.ViewBase;
using Terminal.Gui.Views;

namespace GrooveLab.Screen;

/// <summary>
/// The one view of the screen: draws the picture and writes only the cells that differ from those on the terminal. Keys go to
/// <see cref="ScreenKeys"/>.
/// </summary>
internal sealed class LiveScreen : Runnable
{
    private readonly ScreenKeys _keys;
    private readonly Func<double> _clock;
    private readonly Palette _palette;
    private readonly Canvas _canvas = new();
    private readonly Canvas _shown = new();
    private Cell[,]? _contents;
    private bool _again;

    /// <param name="keys">The state to show and the handling of keys.</param>
    /// <param name="clock">Seconds, from any start.</param>
    /// <param name="palette">The looks.</param>
    /// <param name="ascii">True: ASCII only, whatever the locale.</param>
    public LiveScreen(ScreenKeys keys, Func<double> clock, Palette palette, bool ascii)
    {
        _keys = keys;
        _clock = clock;
        _palette = palette;
        _canvas.Ascii = ascii || (!OperatingSystem.IsWindows() && Palette.IsAscii(Environment.GetEnvironmentVariable));
        Width = Dim.Fill();
        Height = Dim.Fill();
        CanFocus = true;
    }

    /// <summary>Told when this program's own drawing runs; null if nobody asks.</summary>
    public LibraryFailures? Failures { get; set; }

    /// <summary>The number of pictures drawn.</summary>
    public long Pictures { get; private set; }

    /// <summary>Writes every cell again with the next picture: for a terminal that no longer shows what was written to it.</summary>
    public void DrawAgain()
    {
        _again = true;
        SetNeedsDraw();
    }

    /// <summary>A key's name as in the settings; null if it has none.</summary>
    public static string? NameOf(Key key)
    {
        if (key.IsAlt)
        {
            // Only those that edit a line.
            return (key.KeyCode & ~KeyCode.AltMask & ~KeyCode.ShiftMask) switch
            {
                KeyCode.B => "alt+b",
                KeyCode.F => "alt+f",
                KeyCode.D => "alt+d",
                KeyCode.Backspace => "alt+backspace",
                _ => null,
            };
        }

        if (key.IsCtrl)
        {
            return (key.KeyCode & ~KeyCode.CtrlMask & ~KeyCode.ShiftMask) switch
            {
                KeyCode.CursorLeft => "ctrl+left",
                KeyCode.CursorRight => "ctrl+right",
                KeyCode.Backspace => "ctrl+backspace",
                KeyCode.Delete => "ctrl+delete",
                _ => null,
            } ?? (key.NoCtrl.AsRune is { Value: > 32 } letter ? "ctrl+" + letter.ToString().ToLowerInvariant() : null);
        }

        var plain = key.KeyCode & ~KeyCode.ShiftMask;
        return plain switch
        {
            KeyCode.Space => "space",
            KeyCode.Enter => "enter",
            KeyCode.Esc => "esc",
            KeyCode.Tab => "tab",
            KeyCode.Backspace => "backspace",
            KeyCode.Delete => "delete",
            KeyCode.PageDown => "pagedown",
            KeyCode.PageUp => "pageup",
            KeyCode.Home => "home",
            KeyCode.End => "end",
            KeyCode.CursorLeft => "left",
            KeyCode.CursorRight => "right",
            KeyCode.CursorUp => "up",
            KeyCode.CursorDown => "down",
            _ => key.TryGetPrintableRune(out var rune) ? rune.ToString() : null,
        };
    }

    /// <inheritdoc/>
    protected override bool OnClearingViewport() => true;

    /// <inheritdoc/>
    protected override bool OnDrawingContent(DrawContext? context)
    {
        if (App?.Driver is not { } driver)
        {
            return true;
        }

        return Failures is null ? Draw(driver) : Failures.Own(() => Draw(driver));
    }

    private bool Draw(IDriver driver)
    {
        Pictures++;
        var (width, height) = (Viewport.Width, Viewport.Height);
        _canvas.Begin(width, height);
        ScreenPicture.Draw(_canvas, _keys.StateAt(_clock()));

        // The library clears its cells after a change of size, once more after the first picture of the new size, and whenever it likes; then it
        // has a new array.
        var all = _again || _keys.TakeDrawAgain() || !ReferenceEquals(driver.Contents, _contents) || _shown.Width != width || _shown.Height != height;
        if (all)
        {
            _shown.Begin(width, height);
            (_contents, _again) = (driver.Contents, false);
        }

        for (var row = 0; row < height; row++)
        {
            for (var column = 0; column < width; column++)
            {
                var dot = _canvas[column, row];
                if (all || dot != _shown[column, row])
                {
                    if (dot.Sign != Cells.Filler)
                    {
                        SetAttribute(_palette.Of(dot.Ink));
                        if (Cells.Cluster(dot.Sign) is { } cluster)
                        {
                            AddStr(column, row, cluster);
                        }
                        else
                        {
                            AddRune(column, row, Rune.TryCreate(dot.Sign, out var sign) ? sign : Rune.ReplacementChar);
                        }
                    }

                    _shown.Copy(column, row, dot);
                }
            }
        }

        return true;
    }
}
