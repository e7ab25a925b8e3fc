namespace GrooveLab.Screen;

/// <summary>
/// Tells failures of the screen's library from those of this program. The music must go on when the library fails: a key that it does not know,
/// such as Menu or F13, makes it fail after it has taken the key out of its input. A failure of this program ends the screen.
/// </summary>
internal sealed class LibraryFailures
{
    // More without a picture between them: the library does not recover.
    private const int MostWithoutPicture = 100;

    private bool _isOwn;
    private long _pictures = -1;
    private int _since;

    /// <summary>Runs this program's own code. An exception that leaves it counts as this program's failure.</summary>
    public T Own<T>(Func<T> code)
    {
        // Reset only after success: whoever handles the exception asks later.
        _isOwn = true;
        var result = code();
        _isOwn = false;
        return result;
    }

    /// <summary>True if the screen can go on after a failure.</summary>
    /// <param name="pictures">The number of pictures drawn so far.</param>
    public bool IsSurvived(long pictures)
    {
        _since = pictures == _pictures ? _since + 1 : 1;
        _pictures = pictures;
        return !_isOwn && _since <= MostWithoutPicture;
    }

    /// <summary>True for the library's failure at a key that it does not know: it copies a key that it has not found.</summary>
    public static bool IsUnknownKey(Exception failure) => failure is NullReferenceException && failure.Source == "Terminal.Gui";
}
