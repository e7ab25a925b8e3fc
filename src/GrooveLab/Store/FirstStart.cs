namespace GrooveLab.Store;

/// <summary>Whether the program plays for the first time for this user; known by an empty file in the user's data folder.</summary>
internal static class FirstStart
{
    private const string Marker = "played-before";

    /// <summary>True once for each user; true again where nothing can be kept: then the advice is given each time.</summary>
    public static bool IsNow()
    {
        var file = Path.Combine(UserFolders.Data, Marker);
        if (File.Exists(file))
        {
            return false;
        }

        UserFolders.TryWrite(file, string.Empty);
        return true;
    }
}
